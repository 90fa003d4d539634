"""The page: the shop's records in the browser, for the person at the bench.

It composes; it holds no arithmetic and no SQL. Everything it saves goes through the functions of
`needlewright.records` (docs/records.md). docs/page.md says how it is served.

Rooms
-----
==================  ============================================================================
`app`               `create_app(shop_folder, serving=None) -> FastAPI`: puts all of it together
`pages`             `Asked`, what every handler takes: shop, person, texts, `page()`, `saved()`
`posted`            `Sent`, the fields and files of a form, streamed to disk under limits
`texts`             every text of the page, from `language/<code>/*.toml`
`refusals`          errors: an HTML page for people, one JSON form for programs
`security*`         who may ask what: host, origin, session, form token, headers
`session*`          sessions, pass code, slow-down, sign-in
`originals`         pictures and papers by their SHA-256, and by nothing else
`background*`       photos are read while people go on; `app.state.reading`
`live*`             a live picture of a run, read frame by frame
`bench*`            a run the bench takes by itself: `House.bench` has those that are on
`api/`              the JSON API, docs/api.md
`shelf`, `families`, `shop`       places of the page
`sheet*`            the job sheet: `sheet.router` is included by `app` when it is there
`serving`, `tls`    where it listens, with which certificate
==================  ============================================================================

How to add a place
------------------
A module holds `router = APIRouter()` and plain `def` handlers (they run in a thread, so SQLite
and files may be waited for). A handler that shows::

    @router.get("/jobs/{tag}", response_class=HTMLResponse)
    def show(asked: Asked, tag: Tag) -> Response:
        return asked.page("sheet/sheet.html", sheet=job_sheet(asked.shop, tag))

A handler that saves takes the form from `Sent`, names the person with `asked.by`, and answers
with `asked.saved(where_to)`: 303 to that place for a plain form, `{"saved": true, ...}` for a
script (`Accept: application/json`)::

    @router.post("/jobs/{tag}/notes")
    def add(asked: Asked, sent: Sent, tag: Tag) -> Response:
        sheet = add_note(asked.shop, tag, sent.text("text"), asked.by)
        return asked.saved(asked.at("/jobs", tag), version=sheet.version)

`sent.text(name)`, `sent.maybe(name)` (None where the form did not have the field),
`sent.every(name)`, `sent.ticked(name)`, `sent.stated(*names)`, `sent.files(name)` -> `SentFile`s
with `.name`, `.size`, `.content()`. A tag in an address is a `Tag` (tags may hold a slash).
`asked.at("/jobs", tag, "runs", 3)` quotes each part of an address; templates have it as `at(...)`.
The address of a stored picture or paper: `original(sha256)` in templates.

Nobody checks the form token by hand: each route that is not GET or HEAD is refused without it.
In a form it is ``{{ token_field() }}``; scripts use `send()` of base.js, which adds the header.

A `NeedlewrightError` may fly: it becomes an error page, or the JSON error for scripts. Where the
person should stay on the page with what was typed, catch it and show the page again with
``asked.page(..., status=422, wrong=wrong_of(error))``; `refusals.Wrong` has `.what`, `.where`,
`.do`, `.sentence`, and the macro `wrong_note(wrong)` of base_macros.html shows it.

Texts
-----
No text for people stands in a template, a script or a handler. `language/en/sheet.toml` holds
those of the job sheet; a template says ``{{ t("sheet.received.title") }}``, with values
``{{ t("sheet.promised", day=...) }}``. A text with a number has forms: ``[lines]`` with ``one``
and ``many``, chosen by the value named `n`. The group `<file>.script` of each file listed in
``{% set script_texts = ["sheet"] %}`` reaches scripts: `text("sheet.saved")` of base.js gives
`sheet.script.saved`. A test holds every key that is used against the files, and every other
language against English.

Templates
---------
extend "base.html" and fill the blocks `title`, `head` (own stylesheet), `main`, `scripts`. base.css
has the tokens (`--paper --ink --faint --line --band --accent --good --not-good`, `--step-1` ...)
and these classes: `.button`, `.button.main` (the one filled button), `.field`, `.verdict`
(with `data-result="good|bad|none"`), `.number`, `.panel`, `.table-scroll`, `.wrong`, `.hint`,
`.stack`, `.row`, `.visually-hidden`. No inline style and no inline script: the content policy
refuses both, so drawings come as pictures (`<img>`) or as SVG with presentation attributes.
"""
