"""What is heard on a serial line after one question, until it is an answer or cannot become one. Pure.

A frame of Modbus RTU has no mark at its beginning: it is what comes between two silences, and ends with a
checksum (CRC-16). Rules:

- We know what an answer must look like, so its bytes are held against that one by one: first, where the
  line hears itself, our own question; then unit, function and byte count. Its length follows from the
  question; only then does the checksum count.
- Another unit's frame, or an answer to another question, is let go by until the line has been silent
  once; what comes then is looked at anew. Nothing is ever searched for within garbage.
- What does not end with silence is no answer, however good it looks.

The checksum finds every error of three bits and every burst of sixteen. Of frames that are wrong at random
but for their first bytes it lets one in 65,536 pass; no more can be had of this protocol.
"""

from __future__ import annotations

from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.bit_message import ReadCoilsRequest
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest

from controller.wire.client import WHOLE_ANSWERS, NoAnswerError

REFUSAL_BYTES = 5  # unit, function, code, checksum
WRITTEN_BYTES = 8  # unit, function, address, value or count, checksum

ECHOES = "what came is our own question: the line hears itself (echo = true)"
NO_ECHO = "our own question did not come back as it was sent (echo = true is for lines that hear themselves)"

DECODER = DecodePDU(is_server=False)
for _answer in WHOLE_ANSWERS:
    DECODER.register(_answer)
FRAMER = FramerRTU(DECODER)


def data_bytes(request: ModbusPDU) -> int | None:
    """Return how many bytes of data answer a read; None for a write."""
    if isinstance(request, ReadCoilsRequest):  # and discrete inputs
        return (request.count + 7) // 8
    if isinstance(request, ReadHoldingRegistersRequest):  # and input registers
        return 2 * request.count
    return None


def answer_bytes(request: ModbusPDU) -> int:
    """Return how long the whole answer to a question is."""
    data = data_bytes(request)
    return WRITTEN_BYTES if data is None else 5 + data


class Hearing:
    """Takes what is heard after one question. `feed` and `answer` raise NoAnswerError."""

    def __init__(self, request: ModbusPDU, question: bytes, echo: bool) -> None:
        self._request = request
        self._question = question
        self._echo = question if echo else b""
        self._data_bytes = data_bytes(request)
        self._whole_bytes = answer_bytes(request)
        self._heard = bytearray()
        self._why = ""  # why what is heard now cannot become an answer

    @property
    def complete(self) -> bool:
        """Return whether as much as an answer has been heard. It counts once silence has followed."""
        heard = self._heard
        return not self._echo and not self._why and len(heard) >= 2 and len(heard) == self._size()

    def feed(self, data: bytes, after_silence: bool = False) -> None:
        """Take what came, before which the line was silent or not."""
        if self._why and after_silence:
            self._why = ""
            self._heard.clear()
        self._heard += data
        if self._echo:
            self._take_echo()
        if not self._why and not self._echo:
            self._why = self._objection()

    def answer(self) -> ModbusPDU:
        """Return the answer. To be called after the silence that ends it."""
        frame, request = bytes(self._heard), self._request
        if not self.complete:
            raise NoAnswerError(self.shortfall("no answer"))
        if not FRAMER.check_CRC(frame[:-2], int.from_bytes(frame[-2:], "big")):
            raise NoAnswerError("the answer was garbled: its checksum is wrong")
        reply = DECODER.decode(frame[1:-2])
        if reply is None:
            raise NoAnswerError("what came is no answer to this")
        reply.dev_id, reply.transaction_id = request.dev_id, request.transaction_id
        return reply

    def shortfall(self, nothing: str) -> str:
        """Return in words what is missing; `nothing` where nothing at all was heard."""
        if self._why:
            return self._why
        if self._echo:
            return NO_ECHO
        if not self._heard:
            return nothing
        return f"the answer broke off after {len(self._heard)} bytes"

    def _take_echo(self) -> None:
        """Take our own question off what was heard."""
        due = len(self._echo)
        if self._heard[:due] != self._echo[: len(self._heard)]:
            raise NoAnswerError(NO_ECHO)
        if len(self._heard) >= due:
            del self._heard[:due]
            self._echo = b""

    def _objection(self) -> str:
        """Return why what is heard cannot become the answer, nothing while it can."""
        heard, request = self._heard, self._request
        if heard and heard[0] != request.dev_id:
            return f"another unit ({heard[0]}) answered"
        if len(heard) < 2:
            return ""
        if heard[1] & 0x7F != request.function_code:
            return "what came is no answer to this"
        if heard[1] < 0x80 and len(heard) > 2 and self._data_bytes not in (None, heard[2]):
            return ECHOES if self._question.startswith(heard[:6]) else "what came is no answer to this"
        return "more than an answer came" if len(heard) > self._size() else ""

    def _size(self) -> int:
        """Return how long the frame is whose function has been heard."""
        return REFUSAL_BYTES if self._heard[1] & 0x80 else self._whole_bytes
