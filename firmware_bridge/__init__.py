"""The rig's hardware side: register map, link to the board, and the board's firmware."""
