"""For teachers: editions for learners and instructors, worksheets to print."""
