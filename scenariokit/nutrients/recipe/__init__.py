"""From targets to the grams of each fertiliser."""
