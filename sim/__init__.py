"""The simulated rig: physics around the real firmware on fake pins."""
