"""What the rig reads of itself: every sensor with its errors and ailments. Nothing here moves liquid."""
