"""The course's exercises, one file a lesson: `lesson_01.py` holds `EXERCISES`, records only."""
