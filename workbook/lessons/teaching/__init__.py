"""For whoever teaches: editions for learners and instructors, worksheets to print."""
