"""What is asked before anything is written: a time or a figure that can be and probably is not what was meant.

Nothing of it is refused. A question says what was typed and, where one suggests itself, what was probably meant; what
is kept as typed goes into the record with a remark. Tables are not asked: what they say is kept and remarked on.
"""

from batches.records.asking.figures import ask_about_figures
from batches.records.asking.late import ask_why_late, ask_why_readings_late, is_late
from batches.records.asking.new_casks import ask_about_new_casks, enter_casks_of_log, enter_new_casks
from batches.records.asking.questions import Asked, Question, Sure, Why
from batches.records.asking.readings import Along, Before, During, Usually, ask_about_readings, is_unlikely
from batches.records.asking.same_minute import ask_about_same_minute
from batches.records.asking.signed_for import NotSigned, ask_for_name
from batches.records.asking.times import ask_about_times

__all__ = [
    "Along",
    "Asked",
    "Before",
    "During",
    "NotSigned",
    "Question",
    "Sure",
    "Usually",
    "Why",
    "ask_about_figures",
    "ask_about_new_casks",
    "ask_about_readings",
    "ask_about_same_minute",
    "ask_about_times",
    "ask_for_name",
    "ask_why_late",
    "ask_why_readings_late",
    "enter_casks_of_log",
    "enter_new_casks",
    "is_late",
    "is_unlikely",
]
