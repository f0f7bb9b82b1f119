"""A figure's widget misses no change, whenever the page has drawn it."""

import pytest
from bokeh.models import ColumnDataSource

from workbook.parts.figures import put, quiet_figure, stand

READY = {
    "event": "jsevent",
    "kind": "MessageSent",
    "msg_type": "bokeh_event",
    "msg_data": {"type": "event", "name": "document_ready", "values": {"type": "map"}},
}


@pytest.fixture
def source():
    return ColumnDataSource({"x": [1], "y": [1]})


@pytest.fixture
def widget(source):
    fig = quiet_figure("A line.")
    fig.line("x", "y", source=source)
    return stand(fig)


@pytest.fixture
def sent(widget, monkeypatch):
    """Messages to the page, beside what a page draws from the start."""
    messages = []
    monkeypatch.setattr(type(widget), "send", lambda _, content, *buffers: messages.append((content, buffers)))
    return messages


def says(widget, **word):
    widget._handle_custom_msg({**READY, **word}, [])


def drawn_from(widget):
    return str(widget.render_bundle)


def test_a_change_before_the_page_has_drawn_is_drawn_anew(widget, source, sent):
    put(source, {"x": [2], "y": [3.25]})
    assert not sent, "a message that begins before the page listens leaves it out of step"
    assert "3.25" not in drawn_from(widget)
    says(widget)
    assert "3.25" in drawn_from(widget)


def test_a_word_about_sizes_is_no_sign_that_all_is_drawn(widget, source):
    put(source, {"x": [2], "y": [3.25]})
    size = {"kind": "ModelChanged", "model": {"id": widget._model.id}, "attr": "inner_width", "new": 700}
    widget._handle_custom_msg({"event": "jsevent", **size}, [])
    assert "3.25" not in drawn_from(widget)


def test_a_change_while_it_is_drawn_anew_is_not_missed_either(widget, source, sent):
    put(source, {"x": [2], "y": [3.25]})
    says(widget)
    put(source, {"x": [2], "y": [4.75]})
    assert not sent
    says(widget)
    assert "4.75" in drawn_from(widget)


def test_what_changes_later_is_sent_as_it_is(widget, source, sent):
    says(widget)
    before = drawn_from(widget)
    put(source, {"x": [2], "y": [3.25]})
    assert "3.25" in str(sent)
    says(widget)
    assert drawn_from(widget) == before


def test_ends_that_the_page_found_for_other_numbers_are_not_kept(widget, source, sent):
    fig = widget._model
    put(source, {"x": [2], "y": [3.25]})
    end = {"kind": "ModelChanged", "model": {"id": fig.y_range.id}, "attr": "end", "new": 1.5}
    widget._handle_custom_msg({"event": "jsevent", **end}, [])
    assert fig.y_range.end == 1.5
    says(widget)
    assert fig.y_range.end != 1.5
    says(widget)
    put(source, {"x": [2], "y": [4.75]})
    assert sent, "from then on it is drawn"
