"""Read a grammar file: JSpeech Grammar Format (W3C Note, 5 June 2000) to a small tree, and back.

Only the form of a file is known here. What tags mean, and how words are matched, lives in
``grammar``; no engine is imported.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

from handsfree.errors import DataError

if TYPE_CHECKING:
    from lark import Lark

__all__ = ["Alt", "GrammarFile", "Node", "Opt", "Plus", "Ref", "Seq", "Star", "Tagged", "Word"]
__all__ += ["parse"]


@dataclass(frozen=True)
class Word:
    """One word that is said."""

    text: str


@dataclass(frozen=True)
class Ref:
    """A reference to a rule; ``NULL`` and ``VOID`` are the format's special ones."""

    name: str


@dataclass(frozen=True)
class Seq:
    """Parts said one after the other."""

    parts: tuple[Node, ...]


@dataclass(frozen=True)
class Alt:
    """One of several."""

    parts: tuple[Node, ...]


@dataclass(frozen=True)
class Opt:
    """Said or left out."""

    part: Node


@dataclass(frozen=True)
class Star:
    """Said any number of times, or not at all."""

    part: Node


@dataclass(frozen=True)
class Plus:
    """Said once or more often."""

    part: Node


@dataclass(frozen=True)
class Tagged:
    """A part with the tag that stands behind it."""

    part: Node
    tag: str


Node: TypeAlias = Word | Ref | Seq | Alt | Opt | Star | Plus | Tagged


@dataclass(frozen=True, kw_only=True)
class GrammarFile:
    """One file as read.

    Attributes:
        name: As declared in the file.
        rules: Rule name to its tree.
        public: Names of the public rules, in order.
        imports: Full names imported, such as ``numbers.small`` or ``numbers.*``.
    """

    name: str
    rules: Mapping[str, Node]
    public: tuple[str, ...]
    imports: tuple[str, ...] = field(default=())


# JSGF Note 4.7: grouping binds first, then *, + and tags, then sequence, then alternatives.
_FORM = r"""
start: header declaration imported* rule+
header: HEADER
declaration: "grammar" DOTTED ";"
imported: "import" "<" IMPORT ">" ";"
rule: PUBLIC? "<" DOTTED ">" "=" alternatives ";"
alternatives: weighted ("|" weighted)*
weighted: WEIGHT? sequence
sequence: item+
?item: item "*" -> star
     | item "+" -> plus
     | item TAG -> tagged
     | atom
?atom: DOTTED -> word
     | WORD -> word
     | QUOTED -> quoted
     | "<" DOTTED ">" -> ref
     | "(" alternatives ")" -> group
     | "[" alternatives "]" -> optional
HEADER: /#JSGF[ \t]+V1\.0[^;\n]*;/
PUBLIC.2: /public(?=\s*<)/
WEIGHT: /\/[0-9.]+\//
TAG: /\{(\\.|[^}\\])*\}/
QUOTED: /"(\\.|[^"\\])*"/
IMPORT: /[\w\-]+(\.[\w\-]+)*(\.\*)?(?=>)/
DOTTED: /[\w\-]+(\.[\w\-]+)*/
WORD: /[^\s;=|*+<>()\[\]{}\/"]+/
COMMENT: /\/\/[^\n]*/ | /\/\*(.|\n)*?\*\//
%ignore COMMENT
%ignore /[ \t\r\n\ufeff]+/
"""


@functools.cache
def _parser() -> Lark:
    from lark import Lark  # loaded with the first grammar, not with the program

    return Lark(_FORM, parser="lalr", lexer="contextual", maybe_placeholders=False)


def parse(text: str, *, where: str) -> GrammarFile:
    """Parse the text of a grammar file.

    Args:
        text: The file's content.
        where: The file's name, for messages.

    Raises:
        DataError: The text is not JSGF; the message names file, line and column.
    """
    from lark import Token, Tree
    from lark.exceptions import UnexpectedInput

    try:
        tree = _parser().parse(text)
    except UnexpectedInput as wrong:
        line, column = wrong.line, wrong.column
        msg = (
            f"{where}: line {line}, column {column}: not in JSpeech Grammar Format. "
            f"Correct the file at that place."
        )
        raise DataError(msg) from None

    def node(part: Tree[Token] | Token) -> Node:
        assert isinstance(part, Tree)
        kind, kids = part.data, part.children
        match kind:
            case "alternatives":
                branches = tuple(node(kid) for kid in kids)
                return branches[0] if len(branches) == 1 else Alt(branches)
            case "weighted":
                return node(kids[-1])  # weights are read and left unused
            case "sequence":
                parts = tuple(node(kid) for kid in kids)
                return parts[0] if len(parts) == 1 else Seq(parts)
            case "word":
                return Word(str(kids[0]).lower())
            case "quoted":
                words = str(kids[0])[1:-1].replace('\\"', '"').lower().split()
                return Word(words[0]) if len(words) == 1 else Seq(tuple(map(Word, words)))
            case "ref":
                return Ref(str(kids[0]))
            case "group":
                return node(kids[0])
            case "optional":
                return Opt(node(kids[0]))
            case "star":
                return Star(node(kids[0]))
            case "plus":
                return Plus(node(kids[0]))
            case _:  # tagged
                raw = str(kids[1])[1:-1]
                return Tagged(node(kids[0]), raw.replace("\\}", "}").replace("\\{", "{").strip())

    rules: dict[str, Node] = {}
    public: list[str] = []
    imports: list[str] = []
    name = ""
    for part in tree.children:
        assert isinstance(part, Tree)
        if part.data == "declaration":
            name = str(part.children[0])
        elif part.data == "imported":
            imports.append(str(part.children[0]))
        elif part.data == "rule":
            *marks, body = part.children
            rule = str(marks[-1])
            if rule in rules:
                msg = f"{where}: rule <{rule}> stands twice. Remove or rename one of them."
                raise DataError(msg)
            rules[rule] = node(body)
            if len(marks) == 2:  # the word "public" and the name
                public.append(rule)
    if not public:
        msg = f"{where}: no rule is public, so nothing can be said. Write 'public' before one."
        raise DataError(msg)
    return GrammarFile(name=name, rules=rules, public=tuple(public), imports=tuple(imports))
