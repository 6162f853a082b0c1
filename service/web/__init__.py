"""What JSON doors and pages share of the web: the credentials that come with a request."""
