"""Long work: what takes too long for an answer is a job, done by a process of its own while the pages stay free.

A job is a row that says what is to be done and for whom (`models`); a room registers how its kind is done (`kinds`).
Whoever asks (`asking`) starts a process (`starting`), which claims one job after another (`claiming`), does it and says
how far it has come (`progress`, `working`). A process that is killed leaves its job behind, and the next takes it up.
"""
