"""What the fair order dialog says about a draw."""


def p_sentence(least_p: float | None) -> str:
    """Return what the smallest p of a layout means before anything is caught; empty if nothing."""
    if least_p is None:
        return ""
    if least_p > 0.05:
        return (
            f"However clear the catches are, the test over this layout cannot give a p below"
            f" {least_p:.2g}: plan more rounds, or more places."
        )
    if least_p > 0.001:
        return f"The test over this layout can give a p down to {least_p:.2g}."
    return ""
