"""EC of ions, their charges, and strength from EC."""
