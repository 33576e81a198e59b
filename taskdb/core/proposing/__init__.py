"""Which courses of a shape and length a set of places holds, and which of them to fly; pure."""
