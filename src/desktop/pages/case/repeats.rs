//! Measuring one's own click noise: what clicks and commands do meanwhile.

use egui::Vec2;

use crate::case::edit::Tool;
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::repeats::{RepeatedPlace, Repeats};
use crate::desktop::state::session::Grip;

/// How far the film moves aside after each round in turn, points: the hand
/// must not find the place by itself.
const SHIFTS: [Vec2; 4] = [
    Vec2::new(34.0, -22.0),
    Vec2::new(-51.0, 17.0),
    Vec2::new(-16.0, 39.0),
    Vec2::new(33.0, -34.0),
];

/// Begins a measurement over the places chosen.
pub fn begin(desk: &mut Desk<'_>, subjects: Vec<RepeatedPlace>) {
    put_other_tools_down(desk);
    desk.session.repeats = Some(Repeats::of(subjects));
}

/// Goes on with the measurement that was stopped.
pub fn go_on(desk: &mut Desk<'_>) {
    put_other_tools_down(desk);
    if let Some(repeats) = &mut desk.session.repeats {
        repeats.resume();
    }
}

fn put_other_tools_down(desk: &mut Desk<'_>) {
    desk.workspace.document.cancel_live();
    desk.session.stop_assisting();
    desk.session.grip = Grip::None;
    desk.session.selected = None;
    desk.session.tool = Tool::Select;
}

/// Lets a press go; after the last of a round the film moves aside.
pub fn release(desk: &mut Desk<'_>) {
    let ended = desk.session.clicking().is_some_and(Repeats::release);
    after_press(desk, ended);
}

fn after_press(desk: &mut Desk<'_>, ended_round: bool) {
    let Some(repeats) = desk.session.repeats.as_ref().filter(|_| ended_round) else {
        return;
    };
    let count = repeats.round_count();
    desk.workspace.view.pan(SHIFTS[(count - 1) % SHIFTS.len()]);
    let size = desk.workspace.film.size_px();
    desk.workspace.view.keep_on_film(size);
    desk.session.notify(format!("Round {count} done"));
}

/// Takes the commands that mean something else while places are repeated.
/// `true`: taken.
pub fn carry_out(desk: &mut Desk<'_>, command: Command) -> bool {
    if command == Command::MeasureClickNoise {
        desk.preferences.show_click_noise = true;
        let canal = desk.session.canal;
        if desk.session.is_blinded() {
            pause(desk);
        } else if desk.session.repeats.is_some() {
            go_on(desk);
        } else {
            let placed = RepeatedPlace::placed_in(desk.workspace.document.case(), canal);
            match placed.is_empty() {
                true => desk
                    .session
                    .notify("Choose what to click, under Your placement repeatability"),
                false => begin(desk, placed),
            }
        }
        return true;
    }
    let Some(repeats) = desk.session.clicking() else {
        return false;
    };
    match command {
        Command::Undo => {
            let said = match repeats.take_back() {
                true => "Last click taken back",
                false => "Nothing to take back in this round",
            };
            desk.session.notify(said);
        }
        // The marks they work on are hidden.
        Command::Redo | Command::DeleteHandle | Command::InsertPoint => {
            desk.session.notify("Stop clicking first (Esc)");
        }
        Command::Finish => {
            let ended = repeats.finish_line();
            after_press(desk, ended);
        }
        Command::Cancel => pause(desk),
        Command::Use(_) | Command::NewCanal => {
            pause(desk);
            return false;
        }
        _ => return false,
    }
    true
}

/// Stops clicking and shows the marks again.
pub fn pause(desk: &mut Desk<'_>) {
    if let Some(repeats) = &mut desk.session.repeats {
        repeats.pause();
        let count = repeats.round_count();
        desk.session.notify(format!("Stopped after {count} rounds"));
    }
    desk.session.grip = Grip::None;
}
