"""Care while growing, what plants take, and what is left."""
