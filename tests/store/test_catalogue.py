"""The lab's catalogue: what can be used is used, and what cannot is said with line, fault and remedy."""

import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.core.faults import FileFaults
from benchapp.core.words import _, n_, using
from benchapp.store.catalogue import for_translators, in_folder, parsed, read, shipped, text_of

HEAD = '''msgid ""
msgstr ""
"Language: pl\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=3; plural=(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2);\\n"

'''
BODY = '''msgid "Sign in"
msgstr "Zaloguj się"

msgid "order {number}"
msgstr "zlecenie {number}"

msgid "{n} jaw"
msgid_plural "{n} jaws together"
msgstr[0] "jedna praca"
msgstr[1] "{n} prace razem"
msgstr[2] "{n} prac razem"
'''


def faults(text: str | bytes) -> str:
    """Return what is said of a catalogue that cannot be used."""
    with pytest.raises(FileFaults) as caught:
        read("words.po", text.encode() if isinstance(text, str) else text)
    return str(caught.value)


def test_a_catalogue_speaks() -> None:
    """Texts, fields and all plural forms come from the file; what it has not is English; it says how much it has."""
    found = read("words.po", (HEAD + BODY).encode())
    assert found.catalogue.language == "pl" and found.translated == 3 and found.of == len(shipped())
    assert f"language pl, 3 of {found.of} texts" in str(found)
    with using(found.catalogue):
        assert _("Sign in") == "Zaloguj się" and _("order {number}", number="5") == "zlecenie 5"
        assert [n_("{n} jaw", "{n} jaws together", n) for n in (1, 2, 5, 12, 22)] == [
            "jedna praca", "2 prace razem", "5 prac razem", "12 prac razem", "22 prace razem"]
        assert _("Close") == "Close" and n_("{n} thing", "{n} things", 2) == "2 things"


def test_an_unsure_translation_is_left_out() -> None:
    """What is marked fuzzy, or empty, is said in English and is not counted."""
    text = BODY.replace('msgid "Sign in"', '#, fuzzy\nmsgid "Sign in"').replace('"zlecenie {number}"', '""')
    found = read("words.po", (HEAD + text).encode())
    assert found.translated == 1
    with using(found.catalogue):
        assert _("Sign in") == "Sign in" and _("order {number}", number="5") == "order 5"


def test_a_change_of_the_file_is_another_catalogue() -> None:
    """Its name tells what was kept from the one before."""
    one, other = read("a", (HEAD + BODY).encode()), read("a", (HEAD + BODY.replace("się", "sie")).encode())
    assert one.catalogue.name != other.catalogue.name


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("zlecenie {number}", "zlecenie {numer}"), ("line 10, 'order {number}'", "Use exactly these: {number}")),
        (("zlecenie {number}", "zlecenie"), ("fields differ", "{number}")),
        (("zlecenie {number}", "zlecenie {number} {number!r}"), ("braces that name no field", "fields only")),
        (("zlecenie {number}", "zlecenie {number.real}"), ("braces that name no field",)),
        (("zlecenie {number}", "zlecenie {number"), ("braces that name no field",)),
        (("Zaloguj", "{Zaloguj}"), ("'Sign in'", "Use exactly these: none")),
        (("{n} prac razem", "{m} prac razem"), ("'{n} jaw'", "Use exactly these: {n}")),
        (('msgstr[2] "{n} prac razem"', 'msgstr[2] ""'), ("one of the plural forms", "all of them")),
        (("msgstr[2]", "msgstr[3]"), ("line", "more translations")),
        (('msgstr "Zaloguj się"', 'msgtsr "Zaloguj się"'), ("line 8", "not readable")),
        (('msgstr "Zaloguj się"\n', ""), ("line 7", "missing msgstr")),
        (('"Language: pl\\n"', '"X-Language: pl\\n"'), ("no language", "Language: pl")),
        (('"Language: pl\\n"', '"Language: <b>\\n"'), ("file: not readable",)),
        (("nplurals=3", "nplurals=2"), ("line",)),
        (("nplurals=3", "nplurals=x"), ("file", "not readable")),
        (("plural=(n==1", "plural=(import os"), ("header: Plural-Forms cannot be used", "benchapp words --language")),
        (("plural=(n==1", "plural=(n%0==1"), ("header", "Plural-Forms cannot be used")),
        (("? 1 : 2)", "? 1 : 7)"), ("Plural-Forms has form 7", "nplurals is 3")),
    ],
)
def test_a_broken_catalogue_is_said(change: tuple[str, str], said: tuple[str, ...]) -> None:
    """Each fault names its place and the remedy, and the file."""
    assert change[0] in HEAD + BODY
    found = faults((HEAD + BODY).replace(*change))
    assert all(words in found for words in ("words.po: ", *said)), found


def test_all_faults_are_said_at_once() -> None:
    """Three faults, three lines; a file that is no UTF-8 text says where."""
    text = (HEAD + BODY).replace("Language: pl", "X-L: pl").replace("zlecenie {", "{a").replace("{n} prac ", "{m}")
    assert len(faults(text).splitlines()) == 3
    assert "byte 5 is not UTF-8. Save the file" in faults(b"# abc\xff")


WHOLE = (HEAD + BODY).encode()
PIECES = st.sampled_from(
    [b'"', b"\\", b"msgid ", b"msgstr[9] ", b"{", b"\n", b"#~ ", b"#, fuzzy\n", b"\xff", b"n=", b"0"]
)


@given(st.lists(st.tuples(st.integers(0, len(WHOLE)), st.integers(0, 12), PIECES), min_size=1, max_size=5))
def test_no_file_breaks_the_reader(cuts: list[tuple[int, int, bytes]]) -> None:
    """A file with pieces cut out and others put in is used, or refused with its faults; nothing else is raised."""
    raw = WHOLE
    for at, length, piece in cuts:
        raw = raw[:at] + piece + raw[at + length:]
    try:
        found = read("words.po", raw)
    except FileFaults as refused:
        assert refused.faults and all(fault.where and fault.what and fault.mend for fault in refused.faults)
    else:
        with using(found.catalogue):
            assert all(isinstance(n_("{n} jaw", "{n} jaws together", n), str) for n in range(30))


def test_a_folder_without_words_speaks_english(tmp_path: Path) -> None:
    """No file, no catalogue; a file is read by its name."""
    assert in_folder(tmp_path) is None
    (tmp_path / "words.po").write_bytes(WHOLE)
    found = in_folder(tmp_path)
    assert found and found.catalogue.language == "pl"


def test_translators_get_every_text_and_keep_their_work() -> None:
    """A new file has all texts and the plural rule of its language; an older one loses nothing on its way through."""
    fresh = parsed("new.po", text_of(for_translators("pl", None)))
    assert {m.id for m in fresh if m.id} == {m.id for m in shipped() if m.id}
    assert fresh.locale_identifier == "pl" and fresh.num_plurals == 3
    assert parsed("new.po", text_of(for_translators("pt-BR", None))).locale_identifier == "pt_BR"
    old = HEAD + BODY + '\nmsgid "A text of long ago"\nmsgstr "Dawny tekst"\n'
    renewed = text_of(for_translators("", parsed("old.po", old.encode())))
    again = read("renewed.po", renewed)
    assert again.translated == 3 and '#~ msgstr "Dawny tekst"' in renewed.decode()
    assert text_of(for_translators("", parsed("again.po", renewed))) == renewed
    with pytest.raises(FileFaults, match="ISO 639"):
        for_translators("qq", None)


def test_every_text_can_be_translated() -> None:
    """A catalogue in which each text of this version is its own translation and three dots is read and spoken."""
    catalog = for_translators("pl", None)
    for message in catalog:
        if message.id:
            texts = message.id if isinstance(message.id, tuple) else (message.id,)
            message.string = tuple(texts[min(form, 1)] for form in range(3)) if len(texts) > 1 else f"{texts[0]}…"
    found = read("words.po", text_of(catalog))
    assert found.translated == found.of
    with using(found.catalogue):
        some = random.Random(7).sample([m.id for m in shipped() if isinstance(m.id, str) and m.id], 50)
        assert [_(text) for text in some] == [f"{text}…" for text in some]
