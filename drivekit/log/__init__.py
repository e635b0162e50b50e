"""The season log: what a column means, reading, checking, a blank log, belt histories, invented seasons."""
