"""Labels for containers: the QR payload, the label's face, and PDF sheets and rolls of them.

Imports nothing else of this project, and knows no regime: what a label must say is given to it.
"""
