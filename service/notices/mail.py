"""Notices as a letter: one for all that came together."""

import smtplib
import ssl
from collections.abc import Sequence
from datetime import datetime
from email.message import EmailMessage
from email.utils import format_datetime
from zoneinfo import ZoneInfo

from service.custody.identifiers import grouped
from service.notices.notice import Notice
from service.notices.recipients import Post, Recipient, secret

WAIT_S = 20


def letter(post: Post, to: Recipient, notices: Sequence[Notice], zone: ZoneInfo) -> EmailMessage:
    """Write a letter; the most urgent stand first, in the order given.

    Its id is made of the notices' ids: a letter that is sent twice bears the same.
    """
    made = EmailMessage()
    made["From"] = post.sender
    made["To"] = ", ".join(to.mail)
    made["Subject"] = f"Waste custody {to.facility}: {len(notices)} to see to"
    made["Date"] = format_datetime(notices[0].made_at)
    made["Message-ID"] = f"<{notices[0].id}.{len(notices)}@{post.sender.partition('@')[2]}>"
    made["Auto-Submitted"] = "auto-generated"  # RFC 3834, section 5: no machine answers it
    made.set_content("\n\n".join(_paragraph(each, zone) for each in notices) + "\n\n" + _FOOT)
    return made


def _paragraph(notice: Notice, zone: ZoneInfo) -> str:
    told = notice.told
    opened = datetime.fromisoformat(told["opened_at"]).astimezone(zone)
    return "\n".join(
        (
            f"{told['severity'].upper()} {told['code']}  container {grouped(told['container'])}",
            f"since {opened:%d %b %Y %H:%M} ({zone.key})",
            told["message"],
            f"Do: {told['next_action']}",
            f"Rests on: {told['clause']}",
        )
    )


_FOOT = (
    "Each is told once. What stands now is on the officer's desk. Handle waste by your local rules "
    "and in protective gear; this letter takes the place of no notice to an authority."
)


def post_letter(post: Post, message: EmailMessage) -> None:
    """Hand a letter to the server.

    Raises:
        OSError, smtplib.SMTPException: it was not taken by all it is for.
    """
    context = ssl.create_default_context()
    if post.tls == "tls":
        server: smtplib.SMTP = smtplib.SMTP_SSL(
            post.host, post.port, timeout=WAIT_S, context=context
        )
    else:
        server = smtplib.SMTP(post.host, post.port, timeout=WAIT_S)
    with server:
        if post.tls == "starttls":
            server.starttls(context=context)
        if post.user and post.password_file:
            server.login(post.user, secret(post.password_file).decode())
        refused = server.send_message(message)
    if refused:
        raise smtplib.SMTPRecipientsRefused(refused)
