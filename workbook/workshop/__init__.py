"""The club workshop: guesses, exercises, slips, views and papers around the experiments."""

from workbook.workshop.check_in import CheckIn
from workbook.workshop.exercise import Exercise
from workbook.workshop.glossary import term
from workbook.workshop.guess import Guess, recall
from workbook.workshop.slip import Slip, tally
from workbook.workshop.views import Views

__all__ = ["CheckIn", "Exercise", "Guess", "Slip", "Views", "recall", "tally", "term"]
