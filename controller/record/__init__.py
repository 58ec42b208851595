"""Keep the journal of what happened, check its chain, and tell it to people."""
