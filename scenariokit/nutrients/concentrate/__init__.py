"""Stock concentrates: what goes together, what stays dissolved, how to make and dose them."""
