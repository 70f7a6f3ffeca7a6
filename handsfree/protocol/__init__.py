"""The check as data: regions, questions, routines, cautions, sources, and the plan made of them.

``loader.load`` reads the files and ``plan.plan`` makes the plan: import them from their modules.
"""

from handsfree.protocol.model import Kind, Protocol, Question, Region, Routine, SightNeed
from handsfree.protocol.plan import Given, Step, due, side_name, spoken
from handsfree.protocol.subject import KnownLump, Neutered, Part, Sex, Shape, Sight, Size, Subject

__all__ = [
    "Given",
    "Kind",
    "KnownLump",
    "Neutered",
    "Part",
    "Protocol",
    "Question",
    "Region",
    "Routine",
    "Sex",
    "Shape",
    "Sight",
    "SightNeed",
    "Size",
    "Step",
    "Subject",
    "due",
    "side_name",
    "spoken",
]
