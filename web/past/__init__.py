"""Past firings on the screens: the list with small curves, one firing, several laid over each other."""
