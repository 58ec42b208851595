"""What runs a rig live: the pace of the scans, and the joining of rig, record and run. No decisions."""
