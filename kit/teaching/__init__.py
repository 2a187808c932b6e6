"""Teaching eyes: dogs that differ in one thing, seeing practice, groups, the eye against the tape.

Pure: no picture, no page, no store. What is drawn and shown stands in the layers above.
"""
