"""What the service can do beside a peer and the limit, measured in turn in one run."""
