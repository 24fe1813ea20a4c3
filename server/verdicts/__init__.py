"""What is concluded of a motor in its run: one file a question; RULES is the whole list, in reading order. Pure."""

from server.verdicts.concluding import RULES, Conclusions
from server.verdicts.rule import Look, Rule

__all__ = ["RULES", "Conclusions", "Look", "Rule"]
