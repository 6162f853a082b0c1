"""Examples of signing in and letting in for the description of the interface; all invented."""

from typing import Any

SIGN_IN = {
    "an officer, with a code of the moment": {
        "person": "p-4k7q2m",
        "password": "seven grey herons wade",
        "code": "287082",
    }
}
BADGE_SIGN_IN = {
    "at the ward's tablet": {"badge": "B7Q2M-9XK4T-0RDPC-6ZHVW-31FJN", "pin": "41709352"},
    "the first time": {
        "badge": "B7Q2M-9XK4T-0RDPC-6ZHVW-31FJN",
        "pin": "55027183",
        "new_pin": "41709352",
    },
}
PASSWORD_SETTING = {
    "a first password": {
        "activation": "K3M9T-2WQ7X-0HDPC-5ZRVA-81FJN",
        "password": "seven grey herons wade",
    }
}
PASSWORD_CHANGE = {
    "another": {"old": "seven grey herons wade", "new": "nine brown otters sleep"},
}
PIN_CHANGE = {"another": {"old": "41709352", "new": "80231647"}}
FACTOR_CONFIRMATION = {"the first code": {"code": "287082"}}
NEW_PERSON = {
    "a nurse of intensive care": {
        "name": "Ila Marrow",
        "role": "ward",
        "scope": {"units": ["icu"]},
    },
    "an inspector for a week": {
        "name": "Tove Sandgren",
        "role": "inspector",
        "valid_until": "2026-07-08T18:00:00+05:30",
    },
}
PERSON_CHANGE = {
    "shut out": {"disabled": True},
    "another ward": {"scope": {"units": ["theatres"]}},
}
PROGRAM = {"the plant's own system": {"name": "kiln-link", "role": "plant", "valid_days": 90}}
DEVICE = {"a ward's tablet": {"name": "ward-tablet-3", "role": "ward", "scope": {"units": ["icu"]}}}
ENROLMENT = {
    "in a browser": {"code": "T5X2K-8QM4W-0HDPC-7ZRVA-13FJN", "keep": "cookie"},
}

_ICU = {"units": ["icu"], "parties": []}
_ME = {
    "facility": "lantern-hill",
    "id": "p-4k7q2m",
    "name": "Ila Marrow",
    "kind": "person",
    "role": "ward",
    "scope": _ICU,
    "device": "ward-tablet-3",
    "proof": "badge",
    "confined": False,
}
_SESSION = {
    "device": "ward-tablet-3",
    "proof": "badge",
    "created_at": "2026-07-01T02:00:00Z",
    "idle_until": "2026-07-01T02:46:00Z",
    "expires_at": "2026-07-01T15:00:00Z",
    "current": True,
}
_PERSON = {
    "id": "p-4k7q2m",
    "name": "Ila Marrow",
    "role": "ward",
    "scope": _ICU,
    "valid_until": None,
    "disabled_at": None,
}
_DETAIL = {**_PERSON, "credentials": ["badge", "pin"], "sessions": [_SESSION]}
_ACTIVATION = {
    "person": "p-4k7q2m",
    "activation": "K3M9T-2WQ7X-0HDPC-5ZRVA-81FJN",
    "expires_at": "2026-07-02T02:00:00Z",
}
_DEVICE = {
    "name": "ward-tablet-3",
    "role": "ward",
    "scope": _ICU,
    "expires_at": "2026-07-02T02:00:00Z",
}
_ENDED = {"ended": 1}

PEOPLE_ANSWERS: dict[str, Any] = {
    "sign_in": {**_ME, "device": None, "proof": "password"},
    "sign_in_by_badge": _ME,
    "set_password": {"person": "p-4k7q2m"},
    "show_me": _ME,
    "sign_out": _ENDED,
    "sign_out_everywhere": _ENDED,
    "list_my_sessions": {"sessions": [_SESSION]},
    "change_password": _ME,
    "change_pin": _ME,
    "offer_second_factor": {
        "secret": "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP",
        "uri": "otpauth://totp/custody:p-4k7q2m?secret=JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP",
    },
    "confirm_second_factor": {**_ME, "device": None, "proof": "second_factor"},
    "list_people": {"people": [_PERSON]},
    "add_person": {"person": _PERSON, "activation": _ACTIVATION},
    "look_up_person": _DETAIL,
    "change_person": _PERSON,
    "issue_activation": _ACTIVATION,
    "issue_badge": {
        "person": "p-4k7q2m",
        "badge": "B7Q2M-9XK4T-0RDPC-6ZHVW-31FJN",
        "first_pin": "55027183",
    },
    "revoke_badge": {**_DETAIL, "credentials": ["password"]},
    "reset_second_factor": {**_DETAIL, "credentials": ["password"]},
    "end_sessions": _ENDED,
    "list_clients": {
        "clients": [
            {
                **_DEVICE,
                "kind": "device",
                "created_at": "2026-07-01T02:00:00Z",
                "revoked_at": None,
            }
        ]
    },
    "admit_program": {
        **_DEVICE,
        "name": "kiln-link",
        "token": "kQ0y1c7Zb2m9Xw4Tr6Pd8Vf3Hs5Jg0Nl1Ka2Qe4Ru6",
    },
    "invite_device": {**_DEVICE, "code": "T5X2K-8QM4W-0HDPC-7ZRVA-13FJN"},
    "enrol_device": {**_DEVICE, "facility": "lantern-hill", "token": None},
    "revoke_client": _ENDED,
    "read_access_log": {
        "entries": [
            {
                "seq": 7,
                "entry": {
                    "kind": "signed_in",
                    "at": "2026-07-01T02:00:00Z",
                    "actor": "p-4k7q2m",
                    "device": "ward-tablet-3",
                    "request": "5f0c2a9b7d1e4863a0b2c4d6",
                    "about": {"proof": "badge"},
                },
            }
        ],
        "next": 7,
    },
}
"""An example of each answer, by the name of its operation."""
