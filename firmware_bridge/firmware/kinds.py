"""How frames between a meter node and the host look on the wire, and the codes in them.

Runs on the node (MicroPython) and on the host (CPython). All numbers are little-endian,
except the CRC, which stands big-endian so that the CRC over a whole sound frame is 0.

    wire      00 | code | bytes free of 00 ... | 00        a frame is what stands between zeros
                   `-- COBS: the code says how far the next zero of the body would be
    body      kind u8 | version u8 | node u16 | fields ... | CRC-16
    CRC-16    polynomial 0x1021, start 0xFFFF, not reflected ("CCITT-FALSE"), over all before it

    DATA 01        one row, all channels                                            node -> host
       0     4       8     12          18       22      26      30      34      38      42      46
       +-----+-------+-----+-----------+--------+-------+-------+-------+-------+-------+-------+
       |head | boot  | seq | uptime ms | status | out   | out   | in    | in    | pulses| pulses|
       |     | u32   | u32 | u48       | u32    | EC u32| T i32 | EC u32| T i32 | 1 u32 | 2 u32 |
       +-----+-------+-----+-----------+--------+-------+-------+-------+-------+-------+-------+
         EC in 0.01 uS/cm as the probe reads it, T in 0.001 C, pulses counted for ever (mod 2^32)
       status   node NODE_* (8 bits) | pulses2 | pulses1 | in T | in EC | out T | out EC  (4 each)
    GONE 02        boot u32 | from u32 | to u32     these rows are not held any more   node -> host
    HELLO 11       boot u32 | uptime u48 | oldest u32 | newest u32 | confirmed u32 | text
    SETUP 12 / 13  result u8 | key length u8 | key | value      13 is the node's answer to 12
    SELFTEST 15    boot u32 | uptime u48 | tested u32 | failed u32 | text           node -> host
    CONFIRM 20     boot u32 | seq u32               all up to seq is durable           host -> node
    RESEND 21      boot u32 | from u32 | to u32     send these rows again              host -> node
    HELLO? 22, SELFTEST? 23     text                                                   host -> node

A boot id names one start of the node. `seq` counts the rows of a boot from 1. A body is at most 252
bytes, so COBS costs exactly one byte and the longest frame between zeros is 255 bytes.
"""

VERSION = 1
TEXT_MAX = 64

DATA, GONE, HELLO, SETUP, SETUP_ANSWER, SELFTEST = 0x01, 0x02, 0x11, 0x12, 0x13, 0x15
CONFIRM, RESEND, HELLO_ASK, SELFTEST_ASK = 0x20, 0x21, 0x22, 0x23

# Channels, in the order of their four status bits.
OUTLET_EC, OUTLET_TEMP, INLET_EC, INLET_TEMP, PULSES_1, PULSES_2 = range(6)

# What a node says about one channel.
GOOD = 0
NO_READING = 1  # the value means nothing
DOUBTFUL = 2  # a value that the node itself doubts
LOW = 3  # below what the part can read: dry or open
HIGH = 4  # above what the part can read: short
FAULT = 5  # the part does not answer as it should; the value means nothing

# What a node says about itself.
NODE_COUNTS_NEW = 0x01  # no counters were found at start: they began at 0
NODE_ROWS_LOST = 0x02  # rows were overwritten before the host confirmed them
NODE_SELFTEST = 0x04  # the last self test found a fault
NODE_WATCHDOG = 0x08  # the watchdog made this start

# Results of a set-up.
SETUP_DONE, SETUP_NO_SUCH_KEY, SETUP_BAD_VALUE = 0, 1, 2


def channel_status(status: int, channel: int) -> int:
    """The four bits of one channel."""
    return (status >> (4 * channel)) & 15
