"""The fact that somebody can show that the journal up to here is the recorder's own."""

from typing import Annotated, Literal

from pydantic import Field

from monitor.incident.event_parts import EventModel

BATCH_MAX = 2**63 - 1


class Signed(EventModel):
    """A signature over all that was committed before: see ``journal/signing``. It does nothing."""

    what: Literal["signed"] = "signed"
    batch: Annotated[int, Field(ge=0, le=BATCH_MAX)]
    """The last commit that it covers; its own row comes with a later one."""
    digest: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    """The open digest of that commit."""
    signature: Annotated[str, Field(pattern="^[0-9a-f]{128}$")]
