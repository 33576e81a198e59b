"""Which places are the same: near neighbours, and matching one catalogue to another."""
