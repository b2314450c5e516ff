"""The pages behind the links in mails: a look changes nothing, a form acts once."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.requests import Request

from mebuki.domain.garden import Garden
from mebuki.mail.compose import MailWriter
from mebuki.mail.links import Purpose
from mebuki.rounds.ports import Letter, Picture
from mebuki.storage.bounces import AddressBook
from mebuki.storage.keeper_tables import gardens, places, subscribers, trees
from mebuki.storage.outbox import DatabaseOutbox
from mebuki.storage.record_rows import history
from mebuki.web.links_forms import LONGEST_FORM, FormError, read_form
from mebuki.web.links_routes import FORMS_PER_MINUTE, GUESSES_PER_MINUTE, LOOKS_PER_MINUTE
from tests.builders import AT, a_garden, a_subscriber, a_tree
from tests.web.link_desks import READER, Linked, a_notice, linked

ONE_CLICK = {"List-Unsubscribe": "One-Click"}
NAMES = ("see", "acknowledge", "record", "leave", "confirm", "scores")
TODAY = AT.date().isoformat()


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Linked]:
    """Return a service with one garden and one notice."""
    with linked(tmp_path) as found:
        yield found


def _records(service: Linked, tree: str = "maple") -> list[tuple[str, str, str | None]]:
    kept = service.store.load(service.garden.id).trees
    records = next(each for each in kept if each.id == tree).records
    return [(each.kind, each.on.isoformat(), each.place) for each in records]


def _letter(key: str, kind: str = "frost", recipient: str = "Ada@Example.org") -> Letter:
    return Letter(key, recipient, f"<{key}@x>", key, b"x", garden="home", kind=kind)


@pytest.mark.parametrize("method", ["GET", "HEAD"])
@pytest.mark.parametrize("name", NAMES)
def test_a_scanner_that_opens_every_link_changes_nothing(
    service: Linked, name: str, method: str
) -> None:
    """GET and HEAD answer 200 and leave every row of every table as it was."""
    before = service.rows()
    for kind in ("", "frost"):
        answer = service.client.request(method, service.link(name, kind=kind))
        assert answer.status_code == 200
        assert "location" not in answer.headers
        assert "set-cookie" not in answer.headers
    assert service.rows() == before


@pytest.mark.parametrize("name", NAMES)
def test_a_page_tells_nobody_of_its_address_and_loads_nothing(service: Linked, name: str) -> None:
    """No referrer, no store, no script, no style but its own, and forms to ourselves alone."""
    answer = service.client.get(service.link(name))
    policy = answer.headers["content-security-policy"]
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-robots-tag"] == "noindex, nofollow"
    assert "default-src 'none'" in policy
    assert "form-action 'self'" in policy
    assert "unsafe" not in policy
    assert "<script" not in answer.text
    assert "http://" not in answer.text
    assert "https://" not in answer.text


def test_a_notice_can_be_looked_at_in_the_units_of_its_reader(service: Linked) -> None:
    """The words of the mail, and the trees by place."""
    page = service.client.get(service.link("see")).text
    for words in ("Frost −3 °C tonight: bring in 2 trees", "Maple", "Do not water frozen pots."):
        assert words in page
    us = a_subscriber(name="Ada", email="ada@example.org", units="us")
    service.store.save(service.garden.model_copy(update={"subscribers": (us,)}))
    page = service.client.get(service.link("see", us)).text
    assert "26.2 °F" in page  # −3.2 °C × 1.8 + 32 = 26.24 °F
    assert "°C" not in page


def test_the_picture_of_the_night_is_the_one_of_the_mail(service: Linked) -> None:
    """Its bytes and its text alternative come from the mail as it was sent."""
    png = b"\x89PNG\r\n\x1a\n" + bytes(range(256))
    picture = Picture(png, "Lowest −3 °C & “clear”", 320)
    writer = MailWriter("mebuki@example.org", "example.org")
    letter = writer.write(service.garden, service.notice, READER, picture)
    DatabaseOutbox(service.database, service.clock).put([letter])
    page = service.client.get(service.link("see")).text
    assert 'src="data:image/png;base64,iVBORw0KGgo' in page
    assert 'alt="Lowest −3 °C &amp; “clear”"' in page
    assert (
        "data:image"
        not in service.client.get(service.link("see", service.garden.subscribers[1])).text
    )


def test_a_notice_is_acknowledged_once_and_others_see_it(service: Linked) -> None:
    """The first moment stays, however often the button is pressed."""
    path = service.link("acknowledge")
    assert "Noted" in service.client.post(path).text
    first = service.rows()["acknowledgements"]
    service.clock.moment = AT + timedelta(hours=2)
    assert service.client.post(path).status_code == 200
    assert service.rows()["acknowledgements"] == first
    ben = service.garden.subscribers[1]
    assert "Seen by" in service.client.get(service.link("see", ben)).text
    assert "I have seen it" not in service.client.get(service.link("see")).text


def test_two_readers_of_one_name_each_have_their_own_button(tmp_path: Path) -> None:
    """Who saw a notice is known by address."""
    people = [a_subscriber(name="Keeper", email=f"{n}@example.org") for n in ("ada", "ben")]
    with linked(tmp_path, a_garden([a_tree("Maple")], subscribers=tuple(people))) as service:
        service.client.post(service.link("acknowledge", people[0]))
        pages = [service.client.get(service.link("see", each)).text for each in people]
    assert ["I have seen it" in page for page in pages] == [False, True]


@pytest.mark.parametrize("alone", [False, True])
def test_the_page_says_what_it_means_to_have_seen_a_notice(alone: bool, tmp_path: Path) -> None:
    """Others see it, where there are others; what grows worse is still told."""
    garden = a_garden([a_tree("Maple")], subscribers=(READER,)) if alone else None
    with linked(tmp_path, garden) as service:
        page = service.client.post(service.link("acknowledge")).text
    assert ("The others in the garden can see" in page) is not alone
    assert "What grows worse is still told." in page


def test_a_notice_can_only_be_read_behind_its_own_link(service: Linked) -> None:
    """A form sent to the page that shows is refused."""
    answer = service.client.post(service.link("see"))
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET")


def test_a_deed_is_recorded_once_however_often_it_is_sent(service: Linked) -> None:
    """A second press, and a second reader with the same news, add nothing."""
    form = {"kind": "repotted", "day": TODAY, "tree": ["maple", "pine"]}
    answer = service.client.post(service.link("record"), data=form)
    assert (answer.status_code, "Recorded" in answer.text) == (200, True)
    before = service.rows()["records"]
    again = service.client.post(service.link("record"), data=form)
    other = service.client.post(service.link("record", service.garden.subscribers[1]), data=form)
    assert "On record already" in again.text
    assert "On record already" in other.text
    assert service.rows()["records"] == before
    assert _records(service) == [("repotted", TODAY, None)]
    assert _records(service, "elm") == []


def test_trees_that_were_moved_stand_in_their_new_place(service: Linked) -> None:
    """In and out on one day: the last word counts, and sending the first once more does not."""
    move = {"kind": "moved", "day": TODAY, "tree": ["maple"], "place": "shed"}
    for place in ("shed", "bench", "shed"):
        service.client.post(service.link("record"), data=move | {"place": place})
    tree = service.store.load("home").trees[0]
    assert tree.place == "bench"
    assert [place for _, _, place in _records(service)] == ["shed", "bench"]


def test_an_earlier_move_does_not_undo_a_later_one(service: Linked) -> None:
    """A move of last week is put on record and the tree stays where it is."""
    move = {"kind": "moved", "day": TODAY, "tree": ["maple"], "place": "shed"}
    service.client.post(service.link("record"), data=move)
    week = (AT.date() - timedelta(days=7)).isoformat()
    service.client.post(service.link("record"), data=move | {"day": week, "place": "bench"})
    assert service.store.load("home").trees[0].place == "shed"
    assert len(_records(service)) == 2


def test_the_history_of_a_tree_is_added_to_and_never_changed(service: Linked) -> None:
    """A deed is a further row; the garden saved as it is loaded adds no correction."""
    service.client.post(service.link("record"), data={"kind": "fed", "day": TODAY, "tree": "maple"})
    service.client.post(
        service.link("record"), data={"kind": "watered", "day": TODAY, "tree": "maple"}
    )
    service.store.save(service.store.load("home"))
    lines = history(service.database, "home", "maple")
    assert [(each.record.kind, each.corrects, each.withdrawn) for each in lines] == [
        ("fed", None, False), ("watered", None, False),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": ""}, "Say what was done."),
        ({"kind": "collected"}, "Say what was done."),
        ({"tree": []}, "Choose at least one tree."),
        ({"tree": ["elm"]}, "Choose at least one tree."),
        ({"tree": ["no-such"]}, "Choose at least one tree."),
        ({"day": "tomorrow"}, "Give the day"),
        ({"day": (AT.date() + timedelta(days=1)).isoformat()}, "not after today"),
        ({"day": "1999-01-01"}, "last twelve months"),
        ({"kind": "moved"}, "Say where"),
        ({"kind": "moved", "place": "moon"}, "Say where"),
    ],
)
def test_a_form_that_cannot_be_says_so_and_records_nothing(
    service: Linked, change: dict[str, object], words: str
) -> None:
    """The page comes back with the reason; trees that the notice does not name are refused."""
    form = {"kind": "repotted", "day": TODAY, "tree": ["maple"]} | change
    before = service.rows()
    answer = service.client.post(service.link("record"), data=form)
    assert answer.status_code == 422
    assert words in answer.text
    assert service.rows() == before


@pytest.mark.parametrize(("first", "second"), [(5, 1), (1, 5)])
def test_a_deed_that_contradicts_the_record_is_refused_in_words(
    service: Linked, first: int, second: int
) -> None:
    """Two repottings of a tree within days: nothing is entered, and the form keeps what was in it.

    Whichever of the two days is entered first. What stands on record is not refused.
    """
    days = [(AT.date() - timedelta(days=back)).isoformat() for back in (first, second)]
    form = {"kind": "repotted", "tree": ["maple"]}
    service.client.post(service.link("record"), data=form | {"day": days[0]})
    wrong = form | {"day": days[1], "tree": ["pine", "maple"]}
    answer = service.client.post(service.link("record"), data=wrong)
    assert answer.status_code == 422
    assert "Maple: repotted on" in answer.text
    assert "Nothing was recorded" in answer.text
    assert f'value="{days[1]}"' in answer.text
    assert 'value="pine" checked' in answer.text
    assert _records(service, "pine") == []
    assert len(_records(service)) == 1
    again = service.client.post(service.link("record"), data=form | {"day": days[0]})
    assert "On record already" in again.text


def test_new_wire_may_follow_wire_that_came_with_the_tree(service: Linked) -> None:
    """Wire was taken off that nobody saw set; wiring the tree later is no contradiction."""
    week = (AT.date() - timedelta(days=7)).isoformat()
    for kind, day in (("wire-removed", week), ("wired", TODAY)):
        form = {"kind": kind, "day": day, "tree": ["maple"]}
        assert service.client.post(service.link("record"), data=form).status_code == 200
    wrong = {"kind": "wire-removed", "day": (AT.date() - timedelta(days=3)).isoformat()}
    answer = service.client.post(service.link("record"), data=wrong | {"tree": ["maple"]})
    assert answer.status_code == 422


def test_a_tree_that_left_meanwhile_is_named_and_nothing_is_recorded(service: Linked) -> None:
    """The trees of a page are those of the garden as it is now."""
    left = service.garden.model_copy(update={"trees": service.garden.trees[1:]})
    service.store.save(left)
    form = {"kind": "fed", "day": TODAY, "tree": ["maple"]}
    assert service.client.post(service.link("record"), data=form).status_code == 422
    assert service.rows()["records"] == []


@pytest.mark.parametrize("kind", ["", "frost", "digest"])
@pytest.mark.parametrize("shape", ["urlencoded", "multipart"])
def test_one_click_of_a_mailer_takes_a_reader_off(service: Linked, kind: str, shape: str) -> None:
    """RFC 8058: a POST with the pair, in either form, no cookie, no redirect, answered 200."""
    service.consents.confirm("home", READER.email, AT)
    path = service.link("leave", kind=kind)
    files = {"List-Unsubscribe": (None, "One-Click")}
    answer = (
        service.client.post(path, data=ONE_CLICK)
        if shape == "urlencoded"
        else service.client.post(path, files=files)
    )
    assert answer.status_code == 200
    state = service.consents.state("home", READER.email)
    assert state.may("frost") is (kind == "digest")
    assert state.may("digest") is (kind == "frost")
    assert state.may("heat") is (kind != "")
    assert service.client.post(path, data=ONE_CLICK).status_code == 200
    assert service.consents.state("home", READER.email) == state


def test_what_waits_for_a_reader_who_leaves_is_not_sent(service: Linked) -> None:
    """Letters of the kind go from the outbox; those of other kinds and readers stay."""
    outbox = DatabaseOutbox(service.database, service.clock)
    outbox.put([_letter("a"), _letter("b", "heat"), _letter("c", recipient="ben@example.org")])
    service.client.post(service.link("leave", kind="frost"), data=ONE_CLICK)
    claimed = outbox.claim(AT, timedelta(minutes=1))
    assert [each.letter.key for each in claimed] == ["b", "c"]


def test_leaving_by_the_page_can_be_taken_back(service: Linked) -> None:
    """The page stops a kind or all, says so, and starts them again."""
    service.consents.confirm("home", READER.email, AT)
    path = service.link("leave", kind="frost")

    def told(choice: str) -> tuple[bool, bool]:
        page = service.client.post(path, data={"choice": choice}).text
        state = service.consents.state("home", READER.email)
        assert ("Mails are stopped" in page) is not state.may("frost")
        return state.may("frost"), state.may("heat")

    assert told("kind") == (False, True)
    assert told("rejoin-kind") == (True, True)
    assert told("all") == (False, False)
    assert told("rejoin") == (True, True)
    assert told("nonsense") == (True, True)


def test_a_link_to_leave_never_ages_and_works_for_those_taken_out(service: Linked) -> None:
    """Ten years later, and after the reader was taken out of the garden file."""
    service.consents.confirm("home", READER.email, AT)
    path = service.link("leave")
    service.store.save(service.garden.model_copy(update={"subscribers": ()}))
    service.clock.moment = AT + timedelta(days=3650)
    assert service.client.post(path, data=ONE_CLICK).status_code == 200
    assert service.consents.state("home", READER.email).left_at == service.clock.moment
    unknown = service.link("leave", a_subscriber(email="never@example.org"))
    assert service.client.get(unknown).status_code == 410
    assert service.client.post(unknown, data=ONE_CLICK).status_code == 200


def test_an_address_is_confirmed_by_a_button_and_not_by_a_look(service: Linked) -> None:
    """Only the form confirms, and an address that bounced before is tried again."""
    book = AddressBook(service.database)
    book.bounced(READER.email, AT, "550 5.1.1 no such user")
    path = service.link("confirm")
    service.client.get(path)
    assert not service.consents.state("home", READER.email).wants_mail
    assert "Thank you" in service.client.post(path).text
    assert service.consents.state("home", READER.email).may("frost")
    assert not book.blocked(READER.email)


def test_an_old_link_to_confirm_does_not_bring_back_who_left(service: Linked) -> None:
    """Leaving outweighs a confirmation that is sent again."""
    path = service.link("confirm")
    service.client.post(path)
    service.client.post(service.link("leave"), data=ONE_CLICK)
    assert "Mails are stopped" in service.client.post(path).text
    assert not service.consents.state("home", READER.email).wants_mail


@pytest.mark.parametrize(
    ("name", "days"), [("see", 60), ("acknowledge", 7), ("record", 30), ("confirm", 14)]
)
def test_a_link_that_is_too_old_says_so(service: Linked, name: str, days: int) -> None:
    """It works on its last day; a day later it answers 410 and does nothing."""
    path = service.link(name)
    service.clock.moment = AT + timedelta(days=days)
    assert service.client.get(path).status_code == 200
    service.clock.moment += timedelta(days=1)
    before = service.rows()
    form = {"kind": "fed", "day": TODAY, "tree": "maple"}
    for answer in (service.client.get(path), service.client.post(path, data=form)):
        assert answer.status_code == 410
        assert "too old" in answer.text
        assert ("asked again" in answer.text) is (name == "confirm")
    assert service.rows() == before


@pytest.mark.parametrize("name", NAMES)
def test_a_link_whose_garden_or_reader_is_gone_says_so(service: Linked, name: str) -> None:
    """Not that it is old, nor that a newer mail would help; a stranger has nothing to leave."""
    gone = service.link(name, a_subscriber(email="gone@example.org"))
    page = service.client.get(gone)
    assert page.status_code == 410
    assert "leads nowhere any more" in page.text
    assert "newer mail" not in page.text
    with service.database.write() as connection:
        for table in (subscribers, trees, places, gardens):
            connection.execute(sa.delete(table))
    assert "leads nowhere any more" in service.client.get(service.link(name)).text


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(NAMES), st.sampled_from(list(Purpose)), st.data())
def test_a_token_that_was_changed_opens_nothing(
    service: Linked, name: str, purpose: Purpose, data: st.DataObject
) -> None:
    """One sign changed anywhere, or the token under another purpose: 404, never 500."""
    service.clock.moment += timedelta(hours=1)
    token = service.link(name).rpartition("/")[2] if name == "leave" else (
        service.path(service.links.leave(service.garden, READER, "frost")).rpartition("/")[2]
    )  # fmt: skip
    at = data.draw(st.integers(0, len(token) - 1))
    sign = data.draw(st.sampled_from("ABCXYZabcxyz0189-_.~"))
    changed = token[:at] + sign + token[at + 1 :]
    if changed == token:
        changed = token[:-1] + chr(ord(token[-1]) ^ 1)
    paths = [f"/m/leave/{changed}"]
    if purpose is not Purpose.LEAVE:
        paths.append(f"/m/{purpose}/{token}")
    before = service.rows()["consents"]
    for path in paths:
        assert service.client.post(path, data=ONE_CLICK).status_code in (404, 429)
    assert service.rows()["consents"] == before


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=40), st.text(max_size=200), st.sampled_from(["GET", "POST"]))
def test_rubbish_in_an_address_is_answered_calmly(
    service: Linked, purpose: str, token: str, method: str
) -> None:
    """Whatever stands there: a page or a refusal, and no fault."""
    service.clock.moment += timedelta(hours=1)
    purpose, token = (text.encode("utf-8", "replace").hex("%") for text in (purpose, token))
    path = f"/m/{'%' * bool(purpose)}{purpose}/{'%' * bool(token)}{token}"
    assert service.client.request(method, path).status_code in (404, 405, 429)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=400), st.sampled_from([
    "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "multipart/form-data",
    "multipart/form-data; boundary=", "text/plain", "", "multipart/form-data; boundary*=utf-8''%ff",
]))  # fmt: skip
def test_a_garbled_form_is_refused_and_never_a_fault(
    service: Linked, content: bytes, kind: str
) -> None:
    """Any bytes under any type are answered without a fault."""
    service.clock.moment += timedelta(minutes=1)
    path = service.link("leave")
    wrapped = b'--x\r\nContent-Disposition: form-data; name="' + content + b"\r\n\r\n--x--"
    for body in (content, wrapped):
        answer = service.client.post(path, content=body, headers={"content-type": kind})
        assert answer.status_code in (200, 400, 415)


def test_a_form_that_is_too_long_is_refused(service: Linked) -> None:
    """It is not read to its end."""
    content = b"choice=all&x=" + b"x" * LONGEST_FORM
    kind = {"content-type": "application/x-www-form-urlencoded"}
    answer = service.client.post(service.link("leave"), content=content, headers=kind)
    assert answer.status_code == 413
    assert service.consents.state("home", READER.email).left_at is None


def test_a_form_of_parts_within_parts_is_no_fault(service: Linked) -> None:
    """Two thousand parts, each inside the one before: read as what they are, nothing of ours."""
    nest = (
        f"--{n}\r\nContent-Type: multipart/mixed; boundary={n + 1}\r\n\r\n" for n in range(1500)
    )
    kind = {"content-type": "multipart/form-data; boundary=0"}
    answer = service.client.post(service.link("leave"), content="".join(nest), headers=kind)
    assert answer.status_code == 200
    assert service.consents.state("home", READER.email).left_at is None


@pytest.mark.parametrize(
    "name", ['"List-Unsubscribe"', "List-Unsubscribe", '"List-Unsubscribe"; form-data*']
)
def test_a_one_click_in_parts_is_read_as_mailers_write_it(service: Linked, name: str) -> None:
    """With or without quotes, and with a parameter that no parser understands."""
    body = f"--x y\r\nContent-Disposition: form-data; name={name}\r\n\r\nOne-Click\r\n--x y--\r\n"
    kind = {"content-type": 'multipart/form-data; charset=utf-8; boundary="x y"'}
    answer = service.client.post(service.link("leave"), content=body, headers=kind)
    assert answer.status_code == 200
    assert service.consents.state("home", READER.email).left_at is not None


@pytest.mark.parametrize(("gone", "status"), [(False, 408), (True, 400)])
def test_a_form_that_does_not_arrive_is_not_waited_for(gone: bool, status: int) -> None:
    """A body that stalls is given up after a while, and one whose sender hangs up at once."""

    async def stalls() -> dict[str, object]:
        if gone:
            return {"type": "http.disconnect"}
        await asyncio.sleep(60)
        return {"type": "http.request", "body": b"", "more_body": True}

    scope = {"type": "http", "method": "POST", "headers": []}
    with pytest.raises(FormError) as refused:
        asyncio.run(read_form(Request(scope, stalls), wait=0.05))
    assert refused.value.status == status


def test_who_guesses_or_floods_is_slowed_down_and_others_are_not(service: Linked) -> None:
    """Bad links and forms are counted; a good link works from the same address meanwhile."""
    codes = [service.client.get("/m/see/x").status_code for _ in range(GUESSES_PER_MINUTE + 1)]
    assert (codes[0], codes[-1]) == (404, 429)
    assert service.client.get(service.link("see")).status_code == 200
    path = service.link("leave", kind="heat")
    codes = [
        service.client.post(path, data=ONE_CLICK).status_code for _ in range(FORMS_PER_MINUTE + 1)
    ]
    assert (codes[0], codes[-1]) == (200, 429)
    ben = service.link("leave", service.garden.subscribers[1])
    assert service.client.post(ben, data=ONE_CLICK).status_code == 200
    service.clock.moment += timedelta(minutes=1)
    assert service.client.post(path, data=ONE_CLICK).status_code == 200


def test_who_opens_one_page_on_and_on_is_slowed_down(service: Linked) -> None:
    """Looking is counted apart from forms, which still arrive."""
    path = service.link("leave", kind="heat")
    codes = [service.client.get(path).status_code for _ in range(LOOKS_PER_MINUTE + 1)]
    assert (codes[0], codes[-2], codes[-1]) == (200, 200, 429)
    assert service.client.post(path, data=ONE_CLICK).status_code == 200


HARD_NAMES = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "שלום עולם \u202e",
    "🌲 盆栽 👩‍🌾",
    "{{ 7 * 7 }}",
    "A & B 'C' \"D\"",
]


@pytest.mark.parametrize("name", HARD_NAMES)
def test_names_of_people_and_trees_are_shown_and_never_run(tmp_path: Path, name: str) -> None:
    """Markup is escaped, other scripts are isolated, templates do not read them."""
    reader = a_subscriber(name=name, email="ada@example.org")
    garden: Garden = a_garden([a_tree(name, id="maple"), a_tree("Pine")], subscribers=(reader,))
    garden = garden.model_copy(update={"name": name})
    notice = a_notice()
    with linked(tmp_path, garden, notice) as service:
        service.client.post(service.link("acknowledge", reader))
        for each in NAMES:
            page = service.client.get(service.link(each, reader)).text
            assert "<script>alert" not in page
            assert "<img src=x" not in page
            assert ("{{ 7 * 7 }}" in page) is ("7 * 7" in name)
        assert "<bdi>" in service.client.get(service.link("see", reader)).text


@pytest.mark.parametrize("name", ["Ada\r\nBcc: all@example.org", "Ada\nX", "Ada\x00"])
def test_a_name_with_a_line_break_never_gets_into_a_garden(name: str) -> None:
    """It is refused where it is read, before any page or mail."""
    with pytest.raises(ValueError, match="name"):
        a_subscriber(name=name)


def test_a_token_is_never_logged(service: Linked, caplog: pytest.LogCaptureFixture) -> None:
    """Neither a good nor a bad one, not even where the database fails."""
    caplog.set_level(logging.DEBUG)
    path = service.link("see")
    service.client.get(path)
    service.client.get(path + "x")
    with service.database.write() as connection:
        connection.exec_driver_sql("UPDATE notices SET content = '{\"key\": 1}'")
    assert service.client.get(path).status_code == 503
    ours = [each.getMessage() for each in caplog.records if each.name.startswith("mebuki")]
    assert ours
    assert not any(path.rpartition("/")[2] in each for each in ours)
