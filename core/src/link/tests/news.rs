//! What waits to be told, and which extended frames are owed.

use super::super::{
    EndReason,
    news::{Hearing, News, Wanted},
};
use crate::frame::{Extension, Reject};

#[test]
fn any_news_is_news() {
    assert!(!News::default().any());
    for news in [
        News { ended: Some(EndReason::Silence), ..News::default() },
        News { mismatch: true, ..News::default() },
        News { opened: true, ..News::default() },
        News { hearing: Some(Hearing::Quiet), ..News::default() },
        News { refused: [Some(Reject::TooLong), None], ..News::default() },
    ] {
        assert!(news.any(), "{news:?}");
    }
}

#[test]
fn two_rejects_of_one_frame_are_told_in_their_order() {
    let mut news = News::default();
    news.refuse(Reject::BadAcknowledgement);
    news.refuse(Reject::OutsideWindow);
    assert_eq!(news.next_refused(), Some(Reject::BadAcknowledgement));
    assert!(news.any());
    assert_eq!(news.next_refused(), Some(Reject::OutsideWindow));
    assert!(!news.any() && news.next_refused().is_none());
}

/// Every set of frames is sent in one order, each once.
#[test]
fn what_is_owed_goes_before_what_is_asked() {
    use Extension::{Probe, ProbeAnswer, Statistics, StatisticsRequest};
    let order = [ProbeAnswer, Probe, Statistics, StatisticsRequest];
    for mask in 0..16 {
        let mut wanted = Wanted::default();
        let owed = (0..4).filter(|bit| mask >> bit & 1 == 1).map(|bit: usize| order[bit]);
        // Twice, and the last first.
        owed.clone().rev().chain(owed.clone()).for_each(|extension| wanted.add(extension));
        assert_eq!(wanted.has_body(), mask & 0b0011 != 0);
        for extension in owed {
            assert!(wanted.any());
            assert_eq!(wanted.take(), Some(extension));
        }
        assert_eq!((wanted.any(), wanted.take()), (false, None));
    }
}
