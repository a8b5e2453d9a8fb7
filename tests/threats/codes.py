"""What a checksum of 16 bits lets through, worked out exactly and without the code under test.

A checksum is linear: damage passes if, and only if, the pattern of flipped bits is itself a
codeword. How many patterns of each weight are follows from the dual code, which is small enough
to be listed: 2^16 words (MacWilliams identity, any textbook on error-correcting codes).
"""

from fractions import Fraction
from functools import cache

POLYNOMIAL = 0x1021
"""x^16 + x^12 + x^5 + 1 without its highest term (CRC-16/IBM-3740, as PACKET-FORMAT.md has it)."""
CHECK_BITS = 16


def times_x(value: int) -> int:
    """Multiply by x modulo the polynomial."""
    value <<= 1
    return value ^ (0x10000 | POLYNOMIAL) if value & 0x10000 else value


@cache
def syndromes(bits: int) -> tuple[int, ...]:
    """What one flipped bit leaves of the check, last bit of a frame first."""
    found, value = [], 1
    for _ in range(bits):
        found.append(value)
        value = times_x(value)
    return tuple(found)


@cache
def dual_weights(bits: int) -> tuple[int, ...]:
    """How many words of the dual code have each weight, from 0 to ``bits``."""
    rows = [
        sum((syndrome >> row & 1) << at for at, syndrome in enumerate(syndromes(bits)))
        for row in range(CHECK_BITS)
    ]
    counts, word = [0] * (bits + 1), 0
    counts[0] = 1
    for step in range(1, 1 << CHECK_BITS):
        # Gray code: from one combination of rows to the next by one row.
        word ^= rows[(step & -step).bit_length() - 1]
        counts[word.bit_count()] += 1
    return tuple(counts)


def passes(bits: int, error_rate: Fraction) -> Fraction:
    """Probability that a frame of so many bits is damaged and its checksum holds all the same.

    Each bit is flipped independently with ``error_rate`` (binary symmetric channel).
    """
    left = 1 - 2 * error_rate
    weights = enumerate(dual_weights(bits))
    total = sum((count * left**weight for weight, count in weights if count), Fraction(0))
    return total / (1 << CHECK_BITS) - (1 - error_rate) ** bits


def undetected_of_weight_four(bits: int) -> int:
    """How many patterns of four flipped bits pass: pairs with one and the same sum of syndromes."""
    sums: dict[int, int] = {}
    single = syndromes(bits)
    for at, one in enumerate(single):
        for other in single[:at]:
            sums[one ^ other] = sums.get(one ^ other, 0) + 1
    # Each pattern is found once for each of the three ways to part four bits into two pairs.
    return sum(count * (count - 1) // 2 for count in sums.values()) // 3
