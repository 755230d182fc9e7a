"""Asking and being answered, a line each: on a terminal, by a scanner that ends with Enter, or piped."""

from __future__ import annotations

import sys

from ledger.faces.printing import one_line


class Ended(Exception):
    """The input ended before the ticket was whole."""


class Talk:
    """Prompts on standard error, answers from standard input; ``asked`` counts them."""

    def __init__(self) -> None:
        self.terminal = sys.stdin.isatty()
        self.asked = 0

    def ask(self, prompt: str) -> str:
        """Return one line, whitespace trimmed; raises Ended where there is none. Piped answers are printed."""
        print(f"{one_line(prompt)}:", end=" " if self.terminal else "", file=sys.stderr, flush=True)
        answer = self._line()
        self.asked += 1
        return answer

    def _line(self) -> str:
        try:
            line = sys.stdin.readline()
        except UnicodeDecodeError:
            self.say("that does not read as UTF-8 → set the scanner to plain characters")
            return ""
        if not line:
            self.say("")
            raise Ended
        answer = " ".join(line.split())
        if not self.terminal:
            self.say(f" {answer}" if answer else "")
        return answer

    def say(self, text: str) -> None:
        """Print one line on standard error."""
        print("\n".join(map(one_line, text.split("\n"))), file=sys.stderr, flush=True)
