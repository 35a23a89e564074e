"""Planning a trial: how many plots, where each stands, what it takes, and its field book."""
