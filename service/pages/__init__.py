"""HTML pages for people: each only shows; what they change goes through the JSON doors."""
