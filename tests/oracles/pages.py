"""The pages of `bellwire generate --only page,labels`, read by other hands.

html5lib (strict: the first fault in the markup ends it) and the standard library's html.parser read the HTML, markdown-it-py the Markdown. The agreement
itself is read by tomllib, and the octets of each field are counted here anew. Each message, field and unit must stand in its place in all three
pages, also where every text of the agreement tries to be markup.
"""

import decimal
import html.parser
import pathlib
import re
import subprocess
import tempfile
import tomllib

import html5lib
import markdown_it

ROOT = pathlib.Path(__file__).resolve().parents[2]
TOOL = ROOT / "target/debug/bellwire"
SHOWN = {"deg": "°", "Cel": "°C", "um": "µm", "deg/s": "°/s", "um/s": "µm/s"}
VOID = {"meta", "br", "col"}
TAGS = VOID | set("html head title style body header h1 h2 small p b i em span table colgroup thead tbody tr th td dl div dt dd main section footer".split())
ATTRIBUTES = {"lang", "charset", "name", "content", "class", "scope", "colspan"}
NASTY = r"""<script src='http://x/'>1</script> & &amp; "q" 'q' </td></table> | \\ \| `c` **b** _i_ [a](http://x/) ![p](x) <b>x</b> ~~s~~ $m$
# h
- i
--- | --- """ + "\u202e turned"


class Balance(html.parser.HTMLParser):
    """Every element is closed in its order, and is one of ours."""

    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, attributes):
        assert tag in TAGS, tag
        assert {name for name, _ in attributes} <= ATTRIBUTES, attributes
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        assert tag in VOID, tag
        self.handle_starttag(tag, attributes)

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, tag


def tree(text):
    """The page as a tree, after both parsers have taken it."""
    balance = Balance()
    balance.feed(text)
    balance.close()
    assert not balance.open, balance.open
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)


def words(element):
    """The text of an element with single blanks."""
    return " ".join("".join(element.itertext()).split())


def plain(text):
    """A text of the agreement as a page may show it."""
    return " ".join(text.replace("\u202e", "").split())


def unit(field):
    return SHOWN.get(field.get("unit", ""), field.get("unit", ""))


def varint(number):
    return max(1, -(-number.bit_length() // 7))


def single(field):
    """Fewest and most octets of one value."""
    kind = field["type"]
    if kind in ("f32", "f64"):
        return (4, 4) if kind == "f32" else (8, 8)
    if kind in ("text", "octets"):
        return 1, varint(field["most"]) + field["most"]
    if kind == "choice":
        return 1, varint(len(field["words"]) - 1)
    if kind == "flags":
        bits = field.get("bits") or next(bits for bits in (8, 16, 32, 64) if len(field["names"]) <= bits)
        return 1, 1 if bits == 8 else varint(2**bits - 1)
    if kind in ("bool", "u8", "i8"):
        return 1, 1
    bits = int(kind[1:])
    low, high = (0, 2**bits - 1) if kind[0] == "u" else (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    if "range" in field:
        scale, offset = (decimal.Decimal(field.get(key, nothing)) for key, nothing in (("scale", 1), ("offset", 0)))
        low, high = (int((decimal.Decimal(end) - offset) / scale) for end in field["range"])
    zigzag = lambda n: n if kind[0] == "u" else -2 * n - 1 if n < 0 else 2 * n
    ends = [varint(zigzag(n)) for n in (low, high)]
    return (1 if low <= 0 <= high else min(ends)), max(ends)


def octets(field):
    least, most = (octets * field.get("count", 1) for octets in single(field))
    return (1, 1 + most) if field.get("optional") else (least, most)


def shown(least, most):
    return str(least) if least == most else f"{least} to {most}"


def places(message):
    """For each field where it begins and how long it is, then the length of the whole."""
    least = most = varint(message["number"])
    cells = []
    for field in message.get("field", []):
        few, many = octets(field)
        cells.append((shown(least, most), shown(few, many)))
        least, most = least + few, most + many
    return cells, shown(least, most)


def boards(message):
    named = message.get("board", [])
    return [named] if isinstance(named, str) else named


def check_page(page, agreement, fingerprint):
    """The page to pin up: every message in its rows."""
    assert fingerprint in words(page.find(".//header")) and f"version {agreement['version']}" in words(page.find(".//header"))
    told = words(page.find(".//body"))
    assert ("not an emergency stop" in told) == any(moves(message) for message in agreement["message"])
    assert words(page.find(".//body/p")) == plain(agreement["text"])
    sides = [words(cell) for cell in page.findall(".//table[@class='boards']/tbody/tr/th/small")]
    assert sides[1:] == [plain(board["text"]) for board in agreement.get("board", [])] or not agreement.get("board")
    groups = page.findall(".//table[@class='messages']/tbody")
    assert len(groups) == len(agreement["message"])
    for message, group in zip(sorted(agreement["message"], key=lambda message: message["number"]), groups):
        head, *rows = group.findall("tr")
        fields, length = places(message)
        assert words(head[0]) == f"{message['number']} {message['name']}", words(head)
        assert words(head[1]).startswith(message["class"]) and all(board in words(head[1]) for board in boards(message))
        assert moves(message) == (head.find(".//b") is not None), words(head)
        if message["class"] == "set-point":
            fresh = message["fresh"].replace("ms", " ms") if "ms" in message["fresh"] else message["fresh"].replace("s", " s")
            assert f"fresh for {fresh}, then {message['stop']}" in words(head), words(head)
        assert words(head[2]) == length and words(head[3]) == plain(message.get("text", "")), words(head)
        assert len(rows) == len(message.get("field", []))
        for field, row, (start, size) in zip(message.get("field", []), rows, fields):
            cells = [words(cell) for cell in row]
            told = [cells[0], cells[3], *cells[5:]]
            assert told == [field["name"], unit(field), start, size, plain(field.get("text", ""))], cells
            assert field["type"] in cells[1] and all(word in cells[2] for word in field.get("words", field.get("names", []))), cells


def moves(message):
    return message["class"] == "set-point" or message.get("moves", False)


def check_labels(page, agreement, fingerprint):
    """A label for each board with what it takes and sends."""
    labels = {words(label.find(".//h1")): label for label in page.findall(".//section")}
    leaves = [board["name"] for board in agreement.get("board", [])]
    assert list(labels) == [agreement["hub"], *(leaves or ["any leaf"])], list(labels)
    for name, label in labels.items():
        is_hub = name == agreement["hub"]
        mine = [m for m in agreement["message"] if is_hub or not boards(m) or name in boards(m)]
        ways = {"takes": "leaf-to-hub", "sends": "hub-to-leaf"} if is_hub else {"takes": "hub-to-leaf", "sends": "leaf-to-hub"}
        assert fingerprint in words(label) and f"{agreement['agreement']} {agreement['version']}" in words(label)
        takes = [m for m in mine if m["way"] in (ways["takes"], "either")]
        assert ("not an emergency stop" in words(label)) == (not is_hub and any(map(moves, takes))), name
        tables = {table_head: table for table_head, table in zip((words(h) for h in label.findall("h2") if "nothing" not in words(h)), label.findall("table"))}
        for table_head, way in ways.items():
            wanted = sorted((m for m in mine if m["way"] in (way, "either")), key=lambda m: m["number"])
            rows = list(tables[table_head].iter("tr")) if wanted else []
            assert len(rows) == len(wanted) and (wanted or table_head not in tables), (name, table_head)
            for message, row in zip(wanted, rows):
                assert words(row[0]) == str(message["number"]) and words(row[1].find("b")) == message["name"], words(row)
                for field in message.get("field", []):
                    found = re.search(rf"(?:: |; ){field['name']}\b([^;]*)", words(row[1]))
                    assert found and unit(field) in found[1], (words(row), field)
                assert message["class"] != "set-point" or f"then {message['stop']}; stop value" in words(row), words(row)


def check_markdown(text, agreement, fingerprint):
    """The same in Markdown: tables of as many columns as their heads, and no text that became markup."""
    made = markdown_it.MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(text)
    page = html5lib.parse(made, namespaceHTMLElements=False)
    used = {element.tag for element in page.iter()} - {"html", "head", "body"}
    assert used <= {"h1", "h2", "p", "strong", "code", "ul", "li", "table", "thead", "tbody", "tr", "th", "td"}, used
    assert [words(h) for h in page.iter("h1")] == [f"{agreement['agreement']} {agreement['version']}"] and fingerprint in made
    tables = list(page.iter("table"))
    assert len(tables) == 3
    rows = [[[words(cell) for cell in row] for row in table.findall("tbody/tr")] for table in tables]
    for table, content in zip(tables, rows):
        assert {len(row) for row in content} <= {len(table.findall("thead/tr/th"))}
    messages = sorted(agreement["message"], key=lambda message: message["number"])
    dash = lambda text: plain(text) or "-"
    wanted = [[str(m["number"]), m["name"], m["class"], places(m)[1], dash(m.get("text", ""))] for m in messages]
    assert [[*row[:3], row[4], row[6]] for row in rows[1]] == wanted
    wanted = []
    for message in messages:
        for field, (start, size) in zip(message.get("field", []), places(message)[0]):
            wanted.append([f"{message['number']} {message['name']}", field["name"], dash(unit(field)), start, size, dash(field.get("text", ""))])
    assert [[*row[:2], row[4], *row[6:]] for row in rows[2]] == wanted


def check(what, source):
    """All three pages of one agreement."""
    agreement = tomllib.loads(source, parse_float=decimal.Decimal)
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder, "agreement.toml")
        file.write_text(source)
        subprocess.run([TOOL, "generate", file, "--only", "page,labels", "--to", folder], check=True, stdout=subprocess.DEVNULL)
        shown = subprocess.run([TOOL, "agreement", file], check=True, capture_output=True, text=True).stdout
        fingerprint = re.search(r"fingerprint ([0-9a-f]{8})", shown)[1]
        name = agreement["agreement"]
        page, labels, markdown = (pathlib.Path(folder, f"{name}-{end}").read_text() for end in ("page.html", "labels.html", "page.md"))
    for text in (page, labels):
        style = re.search(r"<style>(.*?)</style>", text, re.S)[1]
        assert "url(" not in style and "@import" not in style and "\u202e" not in text
    check_page(tree(page), agreement, fingerprint)
    check_labels(tree(labels), agreement, fingerprint)
    check_markdown(markdown, agreement, fingerprint)
    fields = sum(len(message.get("field", [])) for message in agreement["message"])
    print(f"good: {what}: {len(agreement['message'])} messages, {fields} fields on the page, the labels and in Markdown")


def main():
    observatory = (ROOT / "examples/observatory/agreement.toml").read_text()
    nasty, count = re.subn(r'(?m)^text = ".*"$', lambda _: f"text = '''{NASTY}'''", observatory)
    assert count > 30
    check("the observatory", observatory)
    check("every type", (ROOT / "tests/generated/agreement.toml").read_text())
    check("texts that try to be markup", nasty)
    print("3 passed, 0 failed")


main()
