"""The one error tree.

NeedlewrightError
├── UsageError            the command was put wrongly                      exit code 2
└── UnusableInput         a file or value that cannot be used              exit code 1
    ├── FamilyError       a family folder
    ├── PictureError      a photo, scan or face picture
    ├── RunError          a run table or a table of commands
    ├── RuleError         a tolerance rule that does not exist or does not fit
    ├── UnitError         a unit outside the closed set, or of another quantity
    ├── ScaleError        a value or angle beyond a dial's scale
    ├── SignalError       a stimulus that must not, or cannot, be commanded or understood
    │   └── BeyondDialError   a value past the dial's end marks that is not said to be meant
    ├── SumError          an input of a workbench sum that is out of what it is good for
    ├── PlanError         a catalogue, what is planned for, or rows of returns
    ├── KnowledgeError    what is known of causes, tests and remedies, or an answer to them
    ├── TransportError    an adapter, supply or bus that fails, or must not be used
    │   ├── OverCurrentError   the cluster draws more than it may
    │   └── SilentClusterError its needles fell to rest although told otherwise
    ├── CameraError       a camera that is absent, used elsewhere, or has gone
    ├── JobError          the facts of a job: shop, item, dates, odometer
    ├── PaperError        a paper that must not, or cannot, be issued
    └── RecordError       the shop's records: their database, originals and backups
        ├── NotThereError     a job, run or photo that the records do not have
        ├── ConflictError     another person saved the same thing in the meantime
        └── DiskFullError     nothing more can be written; what was being saved is not

A message is one sentence: what is wrong, where (file, field, dial, row), the limit or
expectation, the value given, and what to do next. An error wrapped at the edge carries its
cause with ``from``.
"""

from collections.abc import Mapping


class NeedlewrightError(Exception):
    """Anything this project refuses, in one sentence for a person."""

    exit_code = 1


class UsageError(NeedlewrightError):
    """The command itself was put wrongly."""

    exit_code = 2


class UnusableInput(NeedlewrightError):
    """A file or a value given to a command cannot be used."""


class FamilyError(UnusableInput):
    """A family folder that cannot be used."""


class PictureError(UnusableInput):
    """A picture that cannot be used."""


class RunError(UnusableInput):
    """A run table, or a table of commands, that cannot be used."""


class RuleError(UnusableInput):
    """A tolerance rule that is unknown or does not fit the dial."""


class UnitError(UnusableInput):
    """A unit outside the closed set, or units of two different quantities."""


class ScaleError(UnusableInput):
    """A value or an angle further beyond a scale than the dial can state."""


class SignalError(UnusableInput):
    """A value that must not be commanded, or a stimulus that states none."""


class BeyondDialError(SignalError):
    """A value past a dial's end marks, and nobody said that it is meant to be."""


class SumError(UnusableInput):
    """An input of a workbench sum that it is not good for, or inputs that do not go together."""


class PlanError(UnusableInput):
    """A catalogue that cannot be used, or something no plan can be made for."""


class KnowledgeError(UnusableInput):
    """A knowledge file that cannot be used, or an answer that does not fit it."""


class TransportError(UnusableInput):
    """What puts a stimulus on the wires is absent, has failed, or must not be used."""


class OverCurrentError(TransportError):
    """The cluster draws more than its family allows."""


class SilentClusterError(TransportError):
    """The needles fell to rest although they are told otherwise: nothing is heard any more."""


class CameraError(UnusableInput):
    """A camera that is absent, is used elsewhere, has gone, or sends no pictures."""


class JobError(UnusableInput):
    """The facts of a job that cannot be used.

    Parameters
    ----------
    sentence
        What is wrong first.
    fields
        What is wrong with each field that cannot be used, beginning with its name.
    """

    def __init__(self, sentence: str, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.fields: Mapping[str, str] = dict(fields or {})


class PaperError(UnusableInput):
    """A paper that must not, or cannot, be issued."""


class RecordError(UnusableInput):
    """The shop's records cannot be opened, or cannot hold what they are given."""


class NotThereError(RecordError):
    """A job, run or photo is meant that the records do not have."""


class ConflictError(RecordError):
    """Another person saved the same thing after this one was opened."""


class DiskFullError(RecordError):
    """The disk is full; what was being saved is not saved, and nothing is half-written."""
