"""Who may do what: the one table of roles against operations and kinds of event.

What is not in it is denied. An operation bears the name it has in the interface's description; the
same names guard the duties, whichever door they are reached by.
"""

from service.access.caller import Caller
from service.custody.words import Role

_OF_CYCLES = frozenset(
    {"cycle_run", "trace_attached", "indicator_read", "load_observed", "spore_tested"}
)
_WARD = frozenset(
    {"registered", "weighed", "inspected", "spilled", "amended", "labelled", "needles_counted"}
)
_HANDLER = _WARD | {
    "double_bagged", "packed", "unpacked", "collected", "stored", "dispatched", "lost", "found",
    "treated", *_OF_CYCLES,
}  # fmt: skip
_PLANT = _OF_CYCLES | frozenset(
    {
        "received", "refused", "weighed", "unpacked", "stored", "treated", "disposed", "inspected",
        "lost", "found", "spilled", "amended", "dispatched", "packed", "pit_covered",
        "needles_counted",
    }
)  # fmt: skip
_ALL = _HANDLER | _PLANT | {"notified", "activity_counted"}

MAY_RECORD: dict[Role, frozenset[str]] = {
    Role.WARD: _WARD,
    Role.HANDLER: _HANDLER,
    Role.PLANT: _PLANT,
    Role.OFFICER: _ALL,
    Role.ADMINISTRATOR: _ALL,
    Role.INSPECTOR: frozenset(),
}
"""The kinds of event each role may record."""

_EVERYBODY = frozenset(Role)
_RECORDERS = frozenset(role for role, kinds in MAY_RECORD.items() if kinds)
_PRINTERS = frozenset({Role.WARD, Role.HANDLER, Role.OFFICER, Role.ADMINISTRATOR})
_READERS = frozenset({Role.OFFICER, Role.ADMINISTRATOR, Role.INSPECTOR})
_CONSIGNORS = frozenset(role for role, kinds in MAY_RECORD.items() if "dispatched" in kinds)
_TREATERS = frozenset(role for role, kinds in MAY_RECORD.items() if "cycle_run" in kinds)
_ADMINISTRATORS = frozenset({Role.ADMINISTRATOR})
_OFFICERS = frozenset({Role.OFFICER, Role.ADMINISTRATOR})

OPERATIONS: dict[str, frozenset[Role]] = {
    # containers, within one's scope
    "list_containers": _EVERYBODY,
    "look_up_container": _EVERYBODY,
    "read_codes": _EVERYBODY,
    "list_violations": _EVERYBODY,
    "count_violations": _EVERYBODY,
    "list_consignments": _EVERYBODY,
    "look_up_consignment": _EVERYBODY,
    "record_events": _RECORDERS,
    "close_consignment": _CONSIGNORS,
    "print_blank_labels": _PRINTERS,
    "print_filled_labels": _PRINTERS,
    "list_label_stocks": _EVERYBODY,
    "run_cycle": _TREATERS,
    "attach_trace": _TREATERS,
    "list_cycles": _TREATERS | _READERS,
    "look_up_cycle": _TREATERS | _READERS,
    "fetch_trace": _TREATERS | _READERS,
    "list_untied_evidence": _TREATERS | _READERS,
    "list_regimes": _EVERYBODY,
    "read_regime": _EVERYBODY,
    "read_site": _EVERYBODY,
    # figures, within one's scope
    "list_activity": _READERS,
    "read_rates": _READERS,
    "compare_shares": _READERS,
    "draw_charts": _READERS,
    "read_sorting_errors": _READERS,
    "find_drops": _READERS,
    "balance_masses": _READERS,
    "balance_needles": _READERS,
    "read_pits": _READERS,
    "plan_pick_ups": _READERS,
    "list_returns": _READERS,
    "fill_return": _READERS,
    # the whole record
    "read_record": _READERS,
    "fetch_manifest": _READERS,
    "export_epcis": _READERS,
    "sign_checkpoint": _READERS,
    "fetch_log_key": _READERS,
    "prove_inclusion": _READERS,
    "prove_consistency": _READERS,
    "verify_bundle": _READERS,
    "read_metrics": _READERS,
    # oneself
    "show_me": _EVERYBODY,
    "sign_out": _EVERYBODY,
    "sign_out_everywhere": _EVERYBODY,
    "list_my_sessions": _EVERYBODY,
    "change_password": _EVERYBODY,
    "change_pin": _EVERYBODY,
    "offer_second_factor": _EVERYBODY,
    "confirm_second_factor": _EVERYBODY,
    # people, devices, programs
    "list_people": _OFFICERS,
    "look_up_person": _OFFICERS,
    "add_person": _ADMINISTRATORS,
    "change_person": _ADMINISTRATORS,
    "issue_activation": _ADMINISTRATORS,
    "issue_badge": _ADMINISTRATORS,
    "revoke_badge": _ADMINISTRATORS,
    "reset_second_factor": _ADMINISTRATORS,
    "end_sessions": _ADMINISTRATORS,
    "list_clients": _ADMINISTRATORS,
    "admit_program": _ADMINISTRATORS,
    "invite_device": _ADMINISTRATORS,
    "revoke_client": _ADMINISTRATORS,
    # the administrator's log, and what only the command line does
    "read_access_log": _ADMINISTRATORS,
    "sign_access_log": _ADMINISTRATORS,
    "change_log_key": _ADMINISTRATORS,
    "change_label_key": _ADMINISTRATORS,
    "set_up": _ADMINISTRATORS,
    "rebuild": _ADMINISTRATORS,
}
"""The roles that each operation is for."""

_ON_WARDS = frozenset({Role.WARD, Role.OFFICER})
_ON_ROUNDS = frozenset({Role.HANDLER, Role.OFFICER})
_AT_PLANTS = frozenset({Role.PLANT, Role.OFFICER})

PAGES: dict[str, frozenset[Role]] = {
    "see_beginning": _EVERYBODY,
    "see_flags": _EVERYBODY,
    "see_me": _EVERYBODY,
    "see_container": _EVERYBODY,
    "see_find": _EVERYBODY,
    "see_ward": _ON_WARDS,
    "see_sealed_today": _ON_WARDS,
    "see_spill": _RECORDERS,
    "see_run": _ON_ROUNDS,
    "see_leave": _ON_ROUNDS,
    "see_wall": _ON_ROUNDS | _ADMINISTRATORS,
    "see_receive": _AT_PLANTS,
    "see_load": _AT_PLANTS,
    "see_cycles": _AT_PLANTS | _READERS,
    "see_cycle": _AT_PLANTS | _READERS,
    "see_machines": _AT_PLANTS | _READERS,
    "see_desk": _READERS,
    "see_balance": _READERS,
    "see_quarter": _READERS,
    "see_figures": _READERS,
    "see_plan": _READERS,
    "see_regimes": _EVERYBODY,
    "see_regime": _EVERYBODY,
    "see_people": _OFFICERS,
    "see_settings": _OFFICERS,
}
"""The roles that each page is for. A page only shows; what it changes is an operation."""

WITHOUT_A_PERSON = frozenset({"see_wall", "see_flags"})
"""The pages that an enrolled device shows while nobody is signed in on it."""

OPEN_TO_ALL = frozenset({"health", "sign_in", "sign_in_by_badge", "set_password", "enrol_device"})
"""Operations that ask for no credential, for they give one or tell nothing."""

BY_BADGE = frozenset({Role.WARD, Role.HANDLER, Role.PLANT})
"""Roles that may sign in with badge and PIN on a shared device."""

NEEDS_SECOND_FACTOR = frozenset({Role.OFFICER, Role.ADMINISTRATOR})
"""Roles that sign in with a second factor beside the password."""

WITHOUT_SECOND_FACTOR = frozenset(
    {
        "show_me",
        "sign_out",
        "change_password",
        "offer_second_factor",
        "confirm_second_factor",
        "see_beginning",
        "see_me",
    }
)
"""All that a person of those roles may do until a second factor is set."""


OF_THE_WHOLE_RECORD = frozenset(
    {
        "read_record",
        "fetch_manifest",
        "export_epcis",
        "read_metrics",
        "fill_return",
        "sign_checkpoint",
        "prove_inclusion",
        "prove_consistency",
    }
)
"""Operations that cannot be confined to a scope: they are for who acts for the whole facility."""


class NotAllowedError(PermissionError):
    """The caller's role does not cover this; the message says which would."""


def demand(caller: Caller, operation: str) -> None:
    """Let a caller pass if the operation is for its role.

    Raises:
        NotAllowedError: it is not, or nobody ever said whom it is for.
    """
    allowed = OPERATIONS.get(operation) or PAGES.get(operation, frozenset())
    what = operation.replace("_", " ")
    if caller.role not in allowed:
        told = ", ".join(sorted(allowed)) or "nobody"
        raise NotAllowedError(f"to {what} is for {told}; you are known as {caller.role}")
    if operation in OF_THE_WHOLE_RECORD and not caller.scope.whole:
        raise NotAllowedError(f"to {what} is for who acts for the whole facility")
    if caller.confined and operation not in WITHOUT_SECOND_FACTOR:
        raise NotAllowedError(f"to {what} a second factor is asked of you: set one first")
