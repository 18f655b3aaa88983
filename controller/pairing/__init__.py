"""Who may look from afar: an offer made at the kiln's console, and what a paired device then holds."""
