"""A role act as a row of the log, and back."""

from __future__ import annotations

import json
from datetime import datetime

from station.records.kept.roleact import Act, RoleAct
from station.records.rows.values import Row, json_text, utc_text


def role_act_row(act: RoleAct) -> Row:
    """Return the row of a role act, complete but for its place in the chain."""
    return {
        "act_id": act.act_id,
        "acted_utc": utc_text(act.acted_utc),
        "person": act.person,
        "role": act.role,
        "act": act.act.value,
        "subject": act.subject,
        "details": json_text(dict(act.details)),
    }


def role_act_of(row: Row) -> RoleAct:
    """Return the role act that a row tells of."""
    return RoleAct(
        act_id=row["act_id"],
        acted_utc=datetime.fromisoformat(row["acted_utc"]),
        person=row["person"],
        role=row["role"],
        act=Act(row["act"]),
        subject=row["subject"],
        details=json.loads(row["details"]),
    )
