"""What a default rests on where no publication stands behind it."""

TRADE = "common practice, no published source"
DEFINITION = "definition"
INVENTED = "invented default for demonstration"
