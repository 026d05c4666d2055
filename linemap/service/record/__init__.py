"""Events, claims, photos and briefings taken in, and the live view after them."""
