"""What is checked of a bundle, a file for each subject; each check gives what it found holds."""
