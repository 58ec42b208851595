"""The `tankhand` command: one file a command, each thin; nothing is decided here."""
