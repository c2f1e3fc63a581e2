"""What is not right with the lab's network, judged from plain facts: name, certificates, the way to this PC.

The limits of days are choices of this project (common practice, no source).
"""

from dataclasses import dataclass

from benchapp.core.doctor import DAY, Finding

SOON = 30 * DAY
LONG_BEFORE = 180 * DAY
FIREWALLS = (
    "Windows: Settings, Privacy & security, Windows Security, Firewall & network protection, Allow an app through "
    "firewall (Python, private networks). macOS: System Settings, Network, Firewall. Linux: `ufw status` or "
    "`firewall-cmd --list-all`."
)


@dataclass(frozen=True)
class Network:
    """The network of a data folder as its file says it; `fault` says why the file cannot be used, "" when it can."""

    name: str
    port: int
    setup_port: int
    fault: str = ""


@dataclass(frozen=True)
class Certificate:
    """When a certificate holds (UTC ms), which names it stands for; `fault` says why it cannot be read."""

    begins: int
    ends: int
    names: tuple[str, ...] = ()
    fault: str = ""


@dataclass(frozen=True)
class Way:
    """How this PC finds itself: the addresses of its name, whether one of them is its own, and what answered there.

    `answer` is "ours" for our server with a certificate that the lab's authority signed, "untrusted" where another
    one is shown, "" where nothing answers.
    """

    addresses: tuple[str, ...]
    own: bool
    answer: str


def on_network(network: Network) -> Finding:
    """Judge the file that describes the network."""
    if network.fault:
        return Finding("network", "wrong", f"network/network.toml cannot be used ({network.fault}): bring the folder "
                                           "network back from a copy.", (network.fault,))
    return Finding("network", "ok", f"Tablets know this PC as {network.name}, port {network.port}; they are set up on "
                                    f"port {network.setup_port}.", (network.name,))


def on_authority(found: Certificate, now: int) -> Finding:
    """Judge the lab's own certificate authority; `now` is UTC ms."""
    remedy = "bring the folder network back from a copy"
    if found.fault:
        return Finding("authority", "wrong", f"network/ca.pem cannot be read ({found.fault}): {remedy}.",
                       (found.fault,))
    if now < found.begins:
        return Finding("authority", "wrong", "The lab's certificate authority does not hold yet: set the PC's clock "
                                             "right.")
    if found.ends <= now:
        return Finding("authority", "wrong", "The lab's certificate authority has ended: move the folder network away, "
                                             "start the server again, and set every tablet up anew.")
    days = (found.ends - now) // DAY
    if found.ends - now < LONG_BEFORE:
        return Finding("authority", "look", f"The lab's certificate authority ends in {days} days: plan a day on which "
                                            "a new one is made and every tablet is set up anew.")
    return Finding("authority", "ok", f"The lab's certificate authority holds for {days} more days.")


def on_certificate(found: Certificate, name: str, now: int) -> Finding:
    """Judge the PC's certificate, which the running server renews by itself; `now` is UTC ms."""
    renewed = "let the server run with --lan, which makes a new one"
    if found.fault:
        return Finding("certificate", "wrong", f"network/leaf.pem cannot be read ({found.fault}): {renewed}.",
                       (found.fault,))
    if name not in found.names:
        return Finding("certificate", "wrong", f"The PC's certificate does not stand for {name}: {renewed}.", (name,))
    if now < found.begins:
        return Finding("certificate", "wrong", "The PC's certificate does not hold yet: set the PC's clock right.")
    if found.ends <= now:
        return Finding("certificate", "wrong", f"The PC's certificate has ended: {renewed}.")
    days = (found.ends - now) // DAY
    if found.ends - now < SOON:
        return Finding("certificate", "look", f"The PC's certificate ends in {days} days: {renewed}.")
    return Finding("certificate", "ok", f"The PC's certificate holds for {days} more days and is renewed by itself.")


def on_name(network: Network, way: Way) -> Finding:
    """Judge whether the name leads to this PC."""
    hides = (network.name, *way.addresses)
    if not way.addresses:
        if network.name.endswith(".local"):
            words = (f"The name {network.name} leads nowhere on this PC: start the server with --lan, which says it in "
                     "the network; the first try may take some seconds.")
        else:
            words = (f"The name {network.name} leads nowhere on this PC: enter it in the router, with a fixed address "
                     "for this PC (DHCP reservation).")
        return Finding("name", "wrong", words, hides)
    said = ", ".join(way.addresses)
    if not way.own:
        return Finding("name", "wrong", f"The name {network.name} leads to {said}, which is not this PC: correct it in "
                                        "the router, with a fixed address for this PC (DHCP reservation).", hides)
    return Finding("name", "ok", f"The name {network.name} leads to this PC ({said}).", hides)


def on_way(network: Network, way: Way, running: bool) -> Finding:
    """Judge whether this PC reaches its server under the name; `running` says that the server answers at all.

    A PC may reach itself while its firewall keeps tablets out, so where to look is said in any case.
    """
    if way.answer == "ours":
        return Finding("way", "ok", f"This PC reaches its server as {network.name}. If a tablet does not: {FIREWALLS}",
                       (network.name,))
    if way.answer == "untrusted":
        return Finding("way", "wrong", f"What answers as {network.name} is not this server by the lab's authority: "
                                       "stop the other program, or start the server again.", (network.name,))
    if not running:
        return Finding("way", "look", "No server runs for the network, so the way to it was not tried: start it with "
                                      "--lan, and look again.")
    return Finding("way", "wrong", f"The server runs, but does not answer as {network.name}: see the name above, and "
                                   f"the firewall. {FIREWALLS}", (network.name,))
