"""Steps read aloud: by a voice of the tablet's own, off until asked for, and said where there is none."""

from tests.live import LiveLab
from tests.web.conftest import NewJaw, Sit
from tests.web.hands import go_on
from tests.web.watch import complaints

# Stands in for the tablet's voices, which a browser without a screen has none of: one over the network, one of another
# language, one that fits. What it is given to say is kept.
VOICES = """
(() => {
  window.spoken = [];
  window.hushed = 0;
  const voices = [
    { name: "Far", lang: "en-GB", localService: false, default: true },
    { name: "Other", lang: "pl-PL", localService: true, default: false },
    { name: "Near", lang: "en_US", localService: true, default: false },
  ];
  window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
  Object.defineProperty(window, "speechSynthesis", { value: {
    getVoices: () => voices, addEventListener() {}, cancel: () => (window.hushed += 1),
    speak: (one) => window.spoken.push([one.text, one.voice.name, one.lang]),
  } });
})();
"""
ALOUD = ".rail [data-act=aloud]"


def test_steps_are_read_by_a_voice_of_the_tablet(sit: Sit, new_jaw: NewJaw) -> None:
    """Silent at first; one tap reads title, words and cautions, the next step follows by itself; one tap ends it."""
    hand = sit(new_jaw("dry-fit"))
    page = hand.page
    page.context.add_init_script(VOICES)
    page.reload()
    page.wait_for_selector("body[data-loaded=yes]")
    go_on(hand)
    assert page.evaluate("() => window.spoken") == []
    page.click(ALOUD)
    page.wait_for_selector(f"{ALOUD}[aria-pressed=true]")
    ((text, name, lang),) = page.evaluate("() => window.spoken")
    assert (name, lang) == ("Near", "en_US")
    shown = [one.strip() for one in page.locator(
        "[data-step]:not([hidden]) :is(h1, .words, .cautions button, .cautions span)").all_inner_texts()]
    at = [text.find(one.rstrip(".")) for one in shown]
    assert -1 not in at and at == sorted(at) and len(shown) > 2, (shown, text)
    step = hand.at
    while hand.at == step:
        assert len(page.evaluate("() => window.spoken")) == 1
        go_on(hand)
    spoken = page.evaluate("() => window.spoken")
    title = page.inner_text("[data-step]:not([hidden]) h1")
    assert len(spoken) == 2 and spoken[1][0].startswith(title)
    hushed = page.evaluate("() => window.hushed")
    page.click(ALOUD)
    page.wait_for_selector(f"{ALOUD}[aria-pressed=false]")
    assert page.evaluate("() => window.hushed") == hushed + 1
    go_on(hand)
    assert len(page.evaluate("() => window.spoken")) == 2


def test_no_voice_is_said(sit: Sit, new_jaw: NewJaw, lab: LiveLab) -> None:
    """Without a voice the button stays off and the page says why; so does the page of this tablet."""
    page = sit(new_jaw("dry-fit")).page
    assert page.evaluate("() => speechSynthesis.getVoices().filter((one) => one.localService).length") == 0
    page.click(ALOUD)
    page.wait_for_selector("#said:has-text('No voice on this tablet')")
    assert page.get_attribute(ALOUD, "aria-pressed") == "false"
    page.goto(f"{lab.address}/tablet")
    page.wait_for_selector("body[data-loaded=yes]")
    page.click("[data-do=read]")
    assert "No voice on this tablet" in page.inner_text("#voice [data-part=said]")
    assert complaints(page) == []
