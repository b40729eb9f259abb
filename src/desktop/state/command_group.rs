//! Menus that commands stand in.

/// Where a command stands in menus and lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    Case,
    Edit,
    Place,
    Record,
    Class,
    View,
    Window,
}

impl Group {
    /// Every group, in menu order.
    pub const ALL: [Group; 7] = [
        Group::Case,
        Group::Edit,
        Group::Place,
        Group::Record,
        Group::Class,
        Group::View,
        Group::Window,
    ];

    /// Its menu's title.
    pub fn title(self) -> &'static str {
        match self {
            Group::Case => "Case",
            Group::Edit => "Edit",
            Group::Place => "Place",
            Group::Record => "Record",
            Group::Class => "Class",
            Group::View => "Film view",
            Group::Window => "Window",
        }
    }
}
