"""Send what a process and its children print as errors to nowhere, from the import of this module on.

Reader processes are born of one that imports this first: a reader that is ended while it starts
would print half a traceback, and native readers print while they abort. Refusals say it better.
"""

import os

_nowhere = os.open(os.devnull, os.O_WRONLY)
os.dup2(_nowhere, 2)
os.close(_nowhere)
