"""Sentences about simulated power, questions before planting and the second year."""

ENGLISH = {
    "simulated several strata": (
        "{response}: seasons are not simulated where several strata hold treatments; the closed "
        "form stands"
    ),
    "scheduler address": (
        "{address} is no scheduler's address; write it as tcp://127.0.0.1:8786 or "
        "tls://host:8786"
    ),
    "scheduler elsewhere": (
        "{address} is on another machine without encryption; use a scheduler on this machine or "
        "a tls:// address"
    ),
    "scheduler missing": (
        "a scheduler needs the extra cluster: pip install 'wickstats[cluster]'"
    ),
    "scheduler silent": (
        "the scheduler at {address} does not answer; start it, or leave --scheduler out"
    ),
}
