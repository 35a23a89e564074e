"""Source water, its alkalinity and acid, and what builds up from it."""
