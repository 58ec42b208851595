"""The rows of the interlock table, one family of causes a file."""
