"""The custody service: rules in the middle, storage, web and paper at the edges."""
