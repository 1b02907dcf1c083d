"""Exercises: questions with numbers of their own, checks that name the slip, and progress."""
