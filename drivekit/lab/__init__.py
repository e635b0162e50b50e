"""What a workbook calls: a log or the values of controls in, words and picture out; a module a workbook.

A workbook's cell is a line or two; whatever is longer stands here or in `drivekit.show`.
"""

from drivekit.lab.belt_tracking import *
from drivekit.lab.calculators import *
from drivekit.lab.decisions import *
from drivekit.lab.drive_set_up import *
from drivekit.lab.season_controls import *
from drivekit.lab.season_log import *
from drivekit.lab.season_study import *
