"""What a material is: its CAS Registry Number."""

from __future__ import annotations


def cas_check_digit_holds(number: str) -> bool:
    """Verify a CAS Registry Number: digits from the right times 1, 2, 3 …, modulo 10, is the last digit.

    Source: Chemical Abstracts Service, check digit verification.
    """
    first, _, rest = number.partition("-")
    second, _, check = rest.partition("-")
    if not (first + second + check).isdigit() or len(second) != 2 or len(check) != 1 or not 2 <= len(first) <= 7:
        return False
    weighed = sum(int(digit) * place for place, digit in enumerate(reversed(first + second), start=1))
    return weighed % 10 == int(check)
