"""Statistics of life in runs: arrays in, frozen results out; knows no belt file and no picture."""
