"""The data format and its strict loader.

A publication file holds one edition of one publisher's text, as far as it was read:

    [publication]
    id = "ibc-2018"                # lower-case words joined by - _ .
    title = "International Building Code"
    edition = "2018"
    publisher = "International Code Council"
    series = "ibc"                 # editions of one series replace each other
    edition_year = 2018
    reference_in = ["us"]          # places where it applies as reference; "*" is everywhere
    carries_from = "ibc-2015"      # optional: what is not repeated here is carried from there
    drops = ["opening-kept-clear"] # optional: what this edition no longer has
    revision = 2                   # optional: this file corrects an earlier one of the same id
    reason = "..."                 # needed with a revision: what was wrong

    [[requirement]]
    id = "special-purpose/set-in-motion"       # under the publication: ibc-2018/special-purpose/...
    kind = "limit"                             # rules.vocabulary.Kind
    title = "..."
    basis = "construction"                     # or "maintenance"
    protects = "egress"                        # or "closing", "people", "record"
    standing = "secondary"                     # rules.vocabulary.Standing
    citation = { clause = "1010.1.4.3 item 3", note = "..." }
    applies = { door_type = "accordion" }      # optional, see rules.loading.predicates
    doors = "existing"                         # optional: "new", "existing", "any"
    adoption_only = true                       # optional: holds only where adopted by name
    in_force_from = 2018-01-01                 # optional, as is in_force_until
    required_in = ["acceptance_test"]          # activities that must look at it
    may_stay_untested_in = []                  # activities that may leave it untested
    [requirement.limit]                        # named by the kind, see rules.loading.specs
    quantity = "set_in_motion_force"
    high = "30 lbf"                            # in the unit the publication states first
    printed_si = "133 N"                       # what it prints beside it; never decides
    measurement_point = "..."

A requirement whose kind is `qualification` may state what was not read of the edition, for the
openings that it applies to: `not_read = ["width", "egress-force/open-fully"]`, names of
requirements or of groups of them, `"*"` for all. It is shown with the opening, is never carried to
a later edition, and `compare` tells what it names apart from what a code added or withdrew. An
edition that only states gaps may be without a year: it stands before the first that was read.

A layer is a place, an organization's policy (`[policy]` with `code`, `name`) or a variance for one
opening (`[variance]` with `number`, `from`, `until`), and what it changes:

    [jurisdiction]
    code = "us-mn"; parent = "us"; name = "Minnesota"; kind = "state"; authority = "..."
    [[adopt]]        # publication = a whole edition, or requirement = one of them by its name
    [[add]]          # a requirement as above, its id under the layer's code
    [[replace]]      # target = id or series/name; then a requirement without an id
    [[tighten]]      # target, and low, high ("13 lbf"), every or keep (ISO 8601)
    [[relax]]        # the same, the other way
    [[withdraw]]     # target

Each of them has `from` (and `until`, that day inside), `citation` with publication, edition and
clause, `standing`, and may have `where` (a predicate over facts) and `existing_doors`
(`"this_edition"`: doors that already stand follow as well; left out, a limit of construction
reaches only what is built from that day on, and lint remarks on it). No two documents of one place
speak of one target for the same doors on the same day, unless the later one has
`supersedes = true`, which ends the earlier statement on the day before. A whole edition's
adoption leaves its `from_memory` and `common_practice` requirements advisory; adopting one by name
makes it bind. A whole edition adopted with a `where` binds the openings it speaks of: there no
edition of that series applies by mere reference, and what a place adopts for every opening stands
beside it.

`rules/data/PUBLISHED` lists every data file with its SHA-256, in the form of sha256sum. A listed
file never changes: what was wrong in it is put right by a new file, such as `us-mn.2.toml`, with
the next `revision` and its `reason`; the latest revision holds. Adding a place is one new file and
its line in PUBLISHED.
"""
