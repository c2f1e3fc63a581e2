"""What can go wrong with the data: one class per kind, its message says what is wrong and how to mend it."""


class StoreError(Exception):
    """Something about the stored data prevents what was asked; nothing was changed."""


class FolderMissing(StoreError):
    """There is no data folder, or no database in it, where one was named."""


class NotEmpty(StoreError):
    """A place that must be new already holds something."""


class FolderLocked(StoreError):
    """Another program serves this data folder at this moment."""


class FolderNewer(StoreError):
    """The data folder was written by a newer version of this software."""


class FolderOlder(StoreError):
    """The data folder must be brought up to this version by a server before it can be read alone."""


class FolderDamaged(StoreError):
    """The database file is not whole, so it is never opened for writing."""


class SchemaChanged(StoreError):
    """A table, trigger or index that guards the journal differs from what this version made."""


class DiskFull(StoreError):
    """The disk took nothing more or failed; what was being written is not stored, all before it is."""


class NotWritable(StoreError):
    """The data folder may only be read, by its file permissions or because it was opened for reading."""


class FolderBusy(StoreError):
    """Another program kept the database locked for longer than the store waits."""


class NotAppended(StoreError):
    """An entry does not fit at the end of the journal: its number, id or bytes contradict it."""


class TextsMismatch(StoreError):
    """A text was handed in under an id that is not the one of its salt and words."""


class CourseMismatch(StoreError):
    """A compiled table was handed in under a hash that is not the one of its bytes."""


class BackupRefused(StoreError):
    """A backup cannot be made or brought back, because it does not hold what it must."""
