"""Statistics of life in runs: arrays in, frozen results out; knows no belt file and no picture.

One run is one row: the belt's age at that run, whether it failed on it, and the group it ran in. Everything here is a
fold over such rows: how many were at risk at each age, and how many failed. Late entry, ties and settings that change
in mid-life need nothing further.

``folds`` counts; ``curve`` is the survival curve with its limits, median and B10; ``means`` the runs made out of the
first h; ``logrank`` and ``convolution`` the comparison of groups and its exact p-value; ``incidence`` the failures by
cause; ``overlap`` whether a setting came together with time or car; ``second_opinion`` the same numbers by lifelines.
"""
