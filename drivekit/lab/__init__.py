"""What a workbook calls: a log or the values of controls in, words and picture out.

A workbook's cell is a line or two; whatever is longer stands here or in `drivekit.show`.
"""

from drivekit.lab.life import (
    answer,
    comparison_drawing,
    curves,
    curves_controls,
    further,
    headlines,
    question_controls,
    tests_table,
)
from drivekit.lab.log import columns, lives, lives_controls, lives_words, log_words, overlap
from drivekit.lab.study import Study, Table, Words, study

__all__ = [
    "Study",
    "Table",
    "Words",
    "answer",
    "columns",
    "comparison_drawing",
    "curves",
    "curves_controls",
    "further",
    "headlines",
    "lives",
    "lives_controls",
    "lives_words",
    "log_words",
    "overlap",
    "question_controls",
    "study",
    "tests_table",
]
