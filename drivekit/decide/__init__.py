"""From a life model, or a season of readings, to a decision: plain arrays in, frozen results out."""
