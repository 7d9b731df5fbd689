"""The feed of one authority: every change of a filing takes the next position, in commit order."""

from __future__ import annotations

from inspections.models import FeedChange, FeedHead, Filing


def enter_feed(*, filing: Filing) -> FeedChange:
    """Give a filing's present state the next position. Call it last in the transaction: the
    authority's counter stays locked until the commit, so positions commit in their order.
    """
    FeedHead.objects.get_or_create(authority_id=filing.authority_id)
    head = FeedHead.objects.select_for_update().get(authority_id=filing.authority_id)
    head.position += 1
    head.save(update_fields=["position"])
    return FeedChange.objects.create(
        authority_id=filing.authority_id,
        author_id=filing.author_id,
        position=head.position,
        filing=filing,
        submittal_id=filing.submittal_id,
        state=filing.state,
        changed_at=filing.answered_at or filing.filed_at,
    )
