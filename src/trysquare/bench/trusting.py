"""What each browser needs before it trusts the bench's own certificate, and what it allows then."""

from __future__ import annotations

from trysquare.bench.views_lists import BrowserSteps

BROWSERS: tuple[BrowserSteps, ...] = (
    BrowserSteps(
        browser="Android, Chrome and others",
        steps=(
            "Download the certificate above.",
            "Settings, search for “CA certificate”, choose “Install anyway”, then the downloaded file.",
            "Compare the fingerprint with the one shown on the computer at the bench.",
            "Open the bench's address again.",
        ),
    ),
    BrowserSteps(
        browser="Android, Firefox",
        steps=(
            "Install the certificate in Android's settings as above.",
            "In Firefox: Settings, About Firefox, tap the logo seven times.",
            "Back, Secret settings, “Use third party CA certificates”.",
        ),
    ),
    BrowserSteps(
        browser="iPhone and iPad",
        steps=(
            "Download the certificate above in Safari and allow the profile.",
            "Settings, General, VPN & Device Management: install the profile.",
            "Settings, General, About, Certificate Trust Settings: switch the bench's certificate on.",
        ),
    ),
    BrowserSteps(
        browser="Windows, Chrome and Edge",
        steps=(
            "Open the downloaded file, “Install Certificate”, “Current User”.",
            "“Place all certificates in the following store”: Trusted Root Certification Authorities.",
        ),
    ),
    BrowserSteps(
        browser="macOS, Safari and Chrome",
        steps=(
            "Open the downloaded file; it lands in Keychain Access.",
            "Open it there, Trust, “When using this certificate”: Always Trust.",
        ),
    ),
    BrowserSteps(
        browser="Firefox on a computer",
        steps=(
            "Settings, Privacy & Security, View Certificates, Authorities, Import.",
            "Choose the downloaded file and “Trust this CA to identify websites”.",
        ),
    ),
    BrowserSteps(
        browser="Without trusting it",
        steps=(
            "Go on past the browser's warning, for this address alone.",
            "Everything works but the reload without network; some browsers keep the microphone shut.",
        ),
    ),
)
"""From memory; browsers move their settings now and then."""


def allows(*, secure: bool) -> tuple[tuple[str, bool], ...]:
    """What browsers allow to a page; over plain http from another device they keep much shut."""
    return (
        ("Ticks, readings, photos", True),
        ("What you say waits for the network and is not lost", True),
        ("Turning the parts in 3D", True),
        ("The screen stays on", secure),
        ("The microphone", secure),
        ("Reload without network", secure),
    )
