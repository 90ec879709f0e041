"""Invented firms whose truth is known, many at once: what the methods of jobs/reliability are measured with."""
