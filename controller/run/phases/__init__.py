"""What each kind of step does in a scan; one phase a file."""
