"""An invented hospital and a seeded stream of a quarter there, with planted faults.

What is wrong with each container is worked out here by plain arithmetic on the simulation's own
times, never by the rules under test.
"""

from scenario.hospital import load_site
from scenario.posting import Batch
from scenario.quarter import Day, Quarter, simulate
from scenario.stories import Fault

__all__ = ["Batch", "Day", "Fault", "Quarter", "load_site", "simulate"]
