"""Published waste rules as dated, cited data, and the loader that refuses a malformed file."""
